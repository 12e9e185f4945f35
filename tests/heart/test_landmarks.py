"""Places and directions of the heart: all there, on the tissue they name, moving with the beat, open to Doppler."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.heart.axis import Axis
from fanlight.heart.kinds import HeartClass
from fanlight.heart.landmarks import axes, landmarks
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark, Species
from tests.heart.hearts import END_DIASTOLE, END_SYSTOLE, FILLING, heart_of

CASES = [(10.0, heart, Species.DOG) for heart in HeartClass] + [
    (3.0, HeartClass.NORMAL, Species.DOG),
    (45.0, HeartClass.NORMAL, Species.DOG),
    (4.0, HeartClass.NORMAL, Species.CAT),
]
LIES_IN = {
    Landmark.LV_CENTRE: {Tissue.LV_CAVITY},
    Landmark.RV_CENTRE: {Tissue.RV_CAVITY, Tissue.RV_OUTFLOW},
    Landmark.PAPILLARY_CRANIAL_BASE: {Tissue.PAPILLARY_CRANIAL, Tissue.LV_FREE_WALL},
    Landmark.PAPILLARY_CAUDAL_BASE: {Tissue.PAPILLARY_CAUDAL, Tissue.LV_FREE_WALL},
    Landmark.PAPILLARY_CRANIAL_TIP: {Tissue.PAPILLARY_CRANIAL},
    Landmark.PAPILLARY_CAUDAL_TIP: {Tissue.PAPILLARY_CAUDAL},
    Landmark.AORTIC_SINUS_CENTRE: {Tissue.AORTA, Tissue.AORTIC_CUSP},
    Landmark.LA_CENTRE: {Tissue.LA_CAVITY},
    Landmark.RA_CENTRE: {Tissue.RA_CAVITY},
    Landmark.LEFT_AURICLE_TIP: {Tissue.LEFT_AURICLE},
    Landmark.RIGHT_AURICLE_TIP: {Tissue.RIGHT_AURICLE},
    Landmark.FOSSA_OVALIS: {Tissue.ATRIAL_SEPTUM},
    Landmark.PULMONARY_BIFURCATION: {Tissue.PULMONARY_TRUNK},
    Landmark.CRANIAL_CAVAL_MOUTH: {Tissue.CRANIAL_VENA_CAVA, Tissue.RA_CAVITY},
    Landmark.CAUDAL_CAVAL_MOUTH: {Tissue.CAUDAL_VENA_CAVA, Tissue.RA_CAVITY},
}


@pytest.mark.parametrize(("weight_kg", "heart", "species"), CASES)
@pytest.mark.parametrize("state", [END_DIASTOLE, END_SYSTOLE, FILLING], ids=["diastole", "systole", "filling"])
def test_landmarks_lie_on_what_they_name(weight_kg, heart, species, state):
    """Each place is sampled as the tissue that it names, at every moment and in every disease."""
    anatomy = heart_of(weight_kg, heart, species)
    places = landmarks(anatomy, state)

    assert set(places) == set(Landmark)
    for name, allowed in LIES_IN.items():
        point = places[name].astype(np.float32)
        assert Tissue(int(sample_heart(anatomy, state, *point.reshape(3, 1)).tissue[0])) in allowed, name


@pytest.mark.parametrize("state", [END_DIASTOLE, END_SYSTOLE], ids=["diastole", "systole"])
def test_axes_are_unit_vectors(state):
    """Every direction is there and has length 1."""
    directions = axes(heart_of(), state)

    assert set(directions) == set(Axis)
    for direction in directions.values():
        assert np.linalg.norm(direction) == pytest.approx(1.0)


def test_the_base_comes_down_and_the_apex_stays():
    """The mitral plane comes down by about a quarter of the diameter, the apex by less than a third of that."""
    anatomy = heart_of()
    rest, now = landmarks(anatomy, END_DIASTOLE), landmarks(anatomy, END_SYSTOLE)
    long = axes(anatomy, END_DIASTOLE)[Axis.LV_LONG]
    base = long @ (rest[Landmark.MITRAL_CENTRE] - now[Landmark.MITRAL_CENTRE])

    assert base == pytest.approx(0.26 * anatomy.sizes.lv_diameter_mm, rel=0.05)
    assert abs(long @ (rest[Landmark.LV_APEX] - now[Landmark.LV_APEX])) < 0.3 * base


def test_the_pulmonic_valve_is_left_of_and_cranial_to_the_aortic_one():
    """As in the dog (anatomy textbooks, common practice); the right branch passes to the right above the atrium."""
    places = landmarks(heart_of(), END_DIASTOLE)
    x, y, _ = places[Landmark.PULMONIC_CENTRE] - places[Landmark.AORTIC_CENTRE]
    branch = places[Landmark.RIGHT_PULMONARY_ARTERY_END] - places[Landmark.PULMONARY_BIFURCATION]

    assert x > 0
    assert y > 0
    assert branch[1] < 0
    assert places[Landmark.RIGHT_PULMONARY_ARTERY_END][2] > places[Landmark.LA_CENTRE][2]


def test_the_atrial_septum_continues_the_ventricular_one():
    """In the four-chamber plane the two make less than 20 degrees (engineering judgement: in line when healthy)."""
    frame = heart_of().frame
    places = landmarks(heart_of(), END_DIASTOLE)
    septum = places[Landmark.TRICUSPID_SEPTAL_HINGE]
    kink = places[Landmark.FOSSA_OVALIS] - septum
    angle = np.degrees(np.arctan2(abs(kink @ np.asarray(frame.depth)), kink @ np.asarray(frame.long)))

    assert angle < 20.0


def test_mitral_and_tricuspid_hinges_stand_at_one_level():
    """Their septal hinges lie within a tenth of the diameter along the long axis (engineering judgement)."""
    anatomy = heart_of()
    places = landmarks(anatomy, END_DIASTOLE)
    step = places[Landmark.TRICUSPID_SEPTAL_HINGE] - places[Landmark.MITRAL_SEPTAL_HINGE]

    assert abs(step @ np.asarray(anatomy.frame.long)) < 0.1 * anatomy.sizes.lv_diameter_mm


def _epss_mm(anatomy):
    """Measure from the open septal tip to the septum, along the depth axis, both leading edges."""
    tip = landmarks(anatomy, FILLING)[Landmark.MITRAL_SEPTAL_TIP]
    depth = np.asarray(anatomy.frame.depth)
    reach = np.arange(0.0, 30.0, 0.05)
    points = (tip[:, None] - depth[:, None] * reach).astype(np.float32)
    tissue = sample_heart(anatomy, FILLING, *points).tissue
    return float(reach[np.argmax(tissue == int(Tissue.SEPTUM))])


@pytest.mark.parametrize("weight_kg", [3.0, 10.0, 25.0, 45.0])
def test_the_open_mitral_valve_comes_close_to_the_septum(weight_kg):
    """E point to septal separation at most 6 mm in healthy dogs (WARE6)."""
    assert 0.0 < _epss_mm(heart_of(weight_kg)) <= 6.0


def test_a_dilated_ventricle_keeps_the_mitral_valve_far_from_the_septum():
    """Above 6.5 mm, the limit for a raised one in Doberman Pinschers (HOLLER2014)."""
    assert _epss_mm(heart_of(35.0, HeartClass.LV_DILATED)) > 6.5


def test_leaflets_prolapse_into_the_atrium_only_when_diseased():
    """In systole a diseased septal leaflet bulges past the line of its hinges, a healthy one does not."""

    def past_the_ring(heart):
        anatomy = heart_of(heart=heart)
        places = landmarks(anatomy, END_SYSTOLE)
        hinges = (places[Landmark.MITRAL_SEPTAL_HINGE], places[Landmark.MITRAL_PARIETAL_HINGE])
        line = np.linspace(0.1, 0.9, 41)[:, None]
        ring = hinges[0] * (1.0 - line) + hinges[1] * line
        above = ring + 0.035 * anatomy.sizes.unit_mm * np.asarray(anatomy.frame.long)
        tissue = sample_heart(anatomy, END_SYSTOLE, *above.T.astype(np.float32)).tissue
        return int((tissue == int(Tissue.LV_CAVITY)).sum())

    assert past_the_ring(HeartClass.NORMAL) == 0
    assert past_the_ring(HeartClass.MITRAL_DISEASE) > 10


# Contacts at 10 kg, patient frame, mm; other sizes scale with the cube root of weight. Where hands set the probe:
# left cranial beside the sternum, left apical at the apex beat (common practice, no source).
APICAL, CRANIAL_TRICUSPID, CRANIAL_PULMONIC = (-33.0, 20.0, -40.0), (25.0, 20.0, -40.0), (30.0, 22.0, -39.0)
DOPPLER = [
    pytest.param(APICAL, Landmark.MITRAL_CENTRE, Axis.MITRAL_INFLOW, id="mitral, apical"),
    pytest.param(APICAL, Landmark.AORTIC_CENTRE, Axis.AORTIC_OUTFLOW, id="aortic, apical"),
    pytest.param(APICAL, Landmark.TRICUSPID_CENTRE, Axis.TRICUSPID_INFLOW, id="tricuspid, apical"),
    pytest.param(CRANIAL_TRICUSPID, Landmark.TRICUSPID_CENTRE, Axis.TRICUSPID_INFLOW, id="tricuspid, left cranial"),
    pytest.param(CRANIAL_PULMONIC, Landmark.PULMONIC_CENTRE, Axis.PULMONIC_OUTFLOW, id="pulmonic, left cranial"),
]


@pytest.mark.parametrize("weight_kg", [3.0, 10.0, 25.0, 45.0])
@pytest.mark.parametrize(("contact", "valve", "flow"), DOPPLER)
def test_doppler_windows_look_along_the_flow(weight_kg, contact, valve, flow):
    """Beam and flow make at most 25 degrees where the trade records them: a tenth of the velocity is lost at most."""
    anatomy = heart_of(weight_kg)
    place = landmarks(anatomy, END_DIASTOLE)[valve]
    beam = place - np.array(contact) * (weight_kg / 10.0) ** (1.0 / 3.0)
    beam /= np.linalg.norm(beam)
    angle = np.degrees(np.arccos(abs(beam @ axes(anatomy, END_DIASTOLE)[flow])))

    assert angle <= 25.0


def test_the_right_window_does_not_look_along_the_aorta():
    """From the right the aortic flow is crossed: no spectral Doppler there (common practice)."""
    place = landmarks(heart_of(), END_DIASTOLE)[Landmark.AORTIC_CENTRE]
    beam = place - np.array((2.0, -49.0, -16.0))
    beam /= np.linalg.norm(beam)

    assert abs(beam @ axes(heart_of(), END_DIASTOLE)[Axis.AORTIC_OUTFLOW]) < np.cos(np.radians(45.0))
