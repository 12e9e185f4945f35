"""The 2-D picture against physics: attenuation, contrast, shadows, contact, gain."""

from dataclasses import replace

import array_api_strict
import numpy as np
import pytest

from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.b_mode import render
from fanlight.simulate.machine.console import GreyMap, default_console
from fanlight.simulate.machine.contact import Contact
from fanlight.simulate.machine.lung import pleura_depth_mm
from fanlight.simulate.machine.point_spread import echo_mhz
from fanlight.simulate.machine.probe import PROBES
from fanlight.simulate.machine.receive import TGC_DB_CM_MHZ
from fanlight.simulate.machine.tissue_echo import Echo
from fanlight.study import Species
from tests.simulate.phantoms import DOWN, PLAIN, amplitude, ball, even, painted, slab, stand_in_heart, state

PROBE = PROBES["phased medium"]
CONSOLE = default_console(PROBE, Species.DOG, 12.0)
SMALL = replace(CONSOLE, n_samples=160, n_lines=48)  # where only levels count


def rows(from_mm, to_mm, console=CONSOLE):
    return slice(int(from_mm / console.sample_mm), int(to_mm / console.sample_mm))


def level_db(seen, where):
    """Mean power of all frames there, dB."""
    return 10 * np.log10((seen[(slice(None), *where)] ** 2).mean())


@pytest.mark.parametrize("attenuation_db", [0.3, 0.5, 0.7])
@pytest.mark.parametrize("frequency_mhz", [4.0, 6.0])
def test_even_tissue_fades_by_twice_its_attenuation(attenuation_db, frequency_mhz):
    """Slope of the level, depth gain taken off, against 2 · alpha · f (physics), within 5 %."""
    console = replace(CONSOLE, frequency_mhz=frequency_mhz)
    tissue = {Tissue.SEPTUM: replace(PLAIN, attenuation_db=attenuation_db)}
    seen = np.concatenate([amplitude(even(np), PROBE, console, seed, echoes=tissue) for seed in range(3)])
    depth_cm = (np.arange(console.n_samples) + 0.5) * console.sample_mm / 10
    fit = slice(int(0.2 * console.n_samples), int(0.85 * console.n_samples))
    level = 10 * np.log10((seen**2).mean(axis=(0, 2))) - 2 * TGC_DB_CM_MHZ * frequency_mhz * depth_cm

    slope = np.polyfit(depth_cm[fit], level[fit], 1)[0]

    assert slope == pytest.approx(-2 * attenuation_db * frequency_mhz, rel=0.05)


def test_echo_of_a_harmonic_picture_is_twice_the_frequency_sent():
    assert echo_mhz(replace(CONSOLE, is_harmonic=True)) == 2 * CONSOLE.frequency_mhz


@pytest.mark.parametrize("contrast_db", [-10.0, -20.0, 6.0])
def test_cyst_shows_the_contrast_it_has(contrast_db):
    """A large ball of weaker or stronger scatter, same attenuation: its level against what is around it, to 1.5 dB."""
    echoes = {Tissue.SEPTUM: PLAIN, Tissue.LIVER: replace(PLAIN, scatter_db=contrast_db)}
    scene = painted(np, [(Tissue.LIVER, ball((0, 0, 55), 13))], Tissue.SEPTUM)
    seen = np.concatenate([amplitude(scene, PROBE, CONSOLE, seed, echoes=echoes) for seed in range(3)])
    lines = slice(58, 70)

    inside = level_db(seen, (rows(48, 62), lines))
    aside = level_db(seen, (rows(48, 62), slice(8, 28)))

    assert inside - aside == pytest.approx(contrast_db, abs=1.5)


def test_fluid_brightens_what_lies_behind_it():
    """Enhancement: 20 mm of fluid spare the two-way loss of 20 mm of tissue (physics)."""
    echoes = {Tissue.SEPTUM: PLAIN, Tissue.EFFUSION: Echo(scatter_db=-46, impedance_mrayl=1.65, attenuation_db=0.0)}
    scene = painted(np, [(Tissue.EFFUSION, ball((0, 0, 50), 10))], Tissue.SEPTUM)
    seen = np.concatenate([amplitude(scene, PROBE, CONSOLE, seed, echoes=echoes) for seed in range(4)])

    gain = level_db(seen, (rows(68, 80), slice(62, 66))) - level_db(seen, (rows(68, 80), slice(8, 24)))

    assert gain == pytest.approx(2 * 0.5 * CONSOLE.frequency_mhz * 2.0, abs=2.5)


def test_rib_shadows_what_lies_behind_it_and_nothing_beside_it():
    bone = painted(np, [(Tissue.RIB, lambda x, y, z: ((x - 6) ** 2 + (z - 15) ** 2) ** 0.5 - 2.5)], Tissue.SEPTUM)
    seen = amplitude(bone, PROBE, CONSOLE, 1)
    clear = amplitude(even(np), PROBE, CONSOLE, 1)
    behind = int((np.degrees(np.arctan2(6, 15)) / CONSOLE.width_deg + 0.5) * CONSOLE.n_lines)
    shadow, free = slice(behind - 4, behind + 4), slice(10, 40)

    assert level_db(seen, (rows(50, 80), shadow)) < level_db(clear, (rows(50, 80), shadow)) - 20
    assert level_db(seen, (rows(50, 80), free)) == pytest.approx(level_db(clear, (rows(50, 80), free)), abs=0.5)


def test_compounding_softens_a_shadow():
    """Looks from several sides see behind the edges of a rib: half-shadow beside the core."""
    bone = painted(np, [(Tissue.RIB, lambda x, y, z: ((x - 6) ** 2 + (z - 15) ** 2) ** 0.5 - 2.5)], Tissue.SEPTUM)
    behind = int((np.degrees(np.arctan2(6, 15)) / CONSOLE.width_deg + 0.5) * CONSOLE.n_lines)
    where = (rows(50, 80), slice(behind - 12, behind - 8))
    one, five = (amplitude(bone, PROBE, replace(CONSOLE, n_looks=n), 1) for n in (1, 5))

    assert level_db(five, where) > level_db(one, where) + 3


def test_lung_shows_a_bright_pleura_its_repeats_and_a_fading_haze():
    scene = painted(np, [(Tissue.LUNG, slab(15, 400))], Tissue.CHEST_WALL)
    seen = amplitude(scene, PROBE, CONSOLE, 2)
    lines = slice(40, 88)
    level = 10 * np.log10((seen[0, :, 58:70] ** 2).mean(axis=1))
    depth = (np.arange(CONSOLE.n_samples) + 0.5) * CONSOLE.sample_mm

    def peak(from_mm, to_mm):
        part = (depth > from_mm) & (depth < to_mm)
        return depth[part][np.argmax(level[part])]

    assert peak(10, 20) == pytest.approx(15.0, abs=0.5)
    assert peak(25, 35) == pytest.approx(30.0, abs=0.5)
    assert peak(40, 50) == pytest.approx(45.0, abs=0.7)
    near, far = level_db(seen, (rows(17, 27), lines)), level_db(seen, (rows(60, 75), lines))
    assert -25 < near < 0
    assert far < near - 3


def test_repeats_of_the_pleura_fall_evenly():
    """Each round trip costs the same: the way again and the ends (physics): 4 to 6.5 dB as shown, wall of 8 mm."""
    scene = painted(np, [(Tissue.LUNG, slab(8, 400))], Tissue.CHEST_WALL)
    seen = np.concatenate([amplitude(scene, PROBE, CONSOLE, seed) for seed in range(4)])
    peaks = []
    for trip in (2, 3, 4):
        part = seen[:, rows(8 * trip - 1, 8 * trip + 1), 60:68]
        peaks.append(10 * np.log10((part**2).mean(axis=(0, 2)).max()))

    assert np.all((np.diff(peaks) < -4.0) & (np.diff(peaks) > -6.5))


def test_slanting_pleura_stays_bright():
    """Air sacs scatter to all sides: a pleura at 50 degrees still outshines the tissue before it."""
    scene = painted(np, [(Tissue.LUNG, lambda x, y, z: (30 + 1.2 * x - z) / 1.56)], Tissue.SEPTUM)
    seen = amplitude(scene, PROBE, CONSOLE, 3)

    assert level_db(seen, (rows(29, 32), slice(60, 68))) > level_db(seen, (rows(22, 27), slice(60, 68))) + 8


def test_tissue_before_the_pleura_comes_again_behind_it():
    """A bright layer 10 mm before the pleura stands 10 mm behind it (mirror image), above the haze."""
    layers = [(Tissue.LUNG, slab(40, 400)), (Tissue.LIVER, slab(28, 32))]
    echoes = {
        Tissue.SEPTUM: replace(PLAIN, attenuation_db=0.1, scatter_db=-30.0),
        Tissue.LIVER: replace(PLAIN, attenuation_db=0.1, scatter_db=20.0),
        Tissue.LUNG: replace(PLAIN, impedance_mrayl=1.0),
    }
    scene = painted(np, layers, Tissue.SEPTUM)
    seen = np.concatenate([amplitude(scene, PROBE, CONSOLE, seed, echoes=echoes) for seed in range(3)])
    middle = slice(58, 70)

    image = level_db(seen, (rows(49, 51), middle))
    assert image > level_db(seen, (rows(43, 46), middle)) + 2
    assert image > level_db(seen, (rows(54, 57), middle)) + 2


def test_rib_has_a_bright_cap():
    bone = painted(np, [(Tissue.RIB, lambda x, y, z: ((x - 6) ** 2 + (z - 15) ** 2) ** 0.5 - 2.5)], Tissue.SEPTUM)
    seen = amplitude(bone, PROBE, CONSOLE, 1)
    behind = int((np.degrees(np.arctan2(6, 15)) / CONSOLE.width_deg + 0.5) * CONSOLE.n_lines)
    over = slice(behind - 4, behind + 4)

    assert level_db(seen, (rows(13, 14.5), over)) > level_db(seen, (rows(8, 11), over)) + 15


def test_pleura_lies_where_the_distances_say():
    """A border between two coarse samples is placed by the distances of both, to a tenth of a sample."""
    from fanlight.simulate.machine.beams import line_geometry
    from fanlight.simulate.machine.image_former import AnatomyView, make_former

    for at_mm in (20.1, 20.3, 20.6):
        former = make_former(
            np, PROBE, SMALL, line_geometry(PROBE, SMALL), DOWN, Contact(), np.random.default_rng(0), None
        )
        scene = painted(np, [(Tissue.LUNG, slab(at_mm, 400))], Tissue.CHEST_WALL)
        seen = AnatomyView(scene, former.grid, np).seen(state(), DOWN)
        label, _ = former.grid.split(seen.tissue)
        edge, _ = former.grid.split(seen.edge_mm)

        depth = pleura_depth_mm(np, former.medium.reverberation, label == Tissue.LUNG, edge)

        assert depth[0, 23] == pytest.approx(at_mm, abs=0.1 * former.grid.coarse_mm)


def test_lifted_edge_loses_its_lines_and_reverberates_at_the_face():
    lifted = Contact(lifted_fraction=0.3, side=1)
    seen = amplitude(even(np), PROBE, CONSOLE, 1, contact=lifted)
    good = amplitude(even(np), PROBE, CONSOLE, 1)
    off, on = slice(int(0.8 * CONSOLE.n_lines), None), slice(0, int(0.5 * CONSOLE.n_lines))

    assert level_db(seen, (rows(30, 60), off)) < level_db(good, (rows(30, 60), off)) - 25
    assert level_db(seen, (rows(30, 60), on)) == pytest.approx(level_db(good, (rows(30, 60), on)), abs=3)
    assert level_db(seen, (rows(1, 4), off)) > level_db(good, (rows(1, 4), off)) + 3


def test_reverberating_contact_hazes_the_near_field_only():
    hazy = amplitude(even(np, Tissue.LV_CAVITY), PROBE, SMALL, 1, contact=Contact(reverberation_db=15.0))
    good = amplitude(even(np, Tissue.LV_CAVITY), PROBE, SMALL, 1)
    all_lines = slice(None)

    assert level_db(hazy, (rows(4, 12, SMALL), all_lines)) > level_db(good, (rows(4, 12, SMALL), all_lines)) + 8
    assert level_db(hazy, (rows(70, 85, SMALL), all_lines)) == pytest.approx(
        level_db(good, (rows(70, 85, SMALL), all_lines)), abs=1.0
    )


def picture(console, seed=5, scene=None, xp=np, **change):
    return render(scene or even(xp), DOWN, PROBE, console, [state()], np.random.default_rng(seed), xp=xp, **change)


def test_gain_moves_levels_as_the_map_says():
    """6 dB on a straight map of 60 dB are a tenth of the greys, where nothing is black or white."""
    console = replace(SMALL, grey_map=GreyMap.EVEN, dynamic_range_db=60.0)
    dark = picture(console).levels.astype(float)
    light = picture(replace(console, gain_db=6.0)).levels.astype(float)
    inside = (dark > 20) & (light < 240)

    assert inside.mean() > 0.5
    assert np.abs((light - dark)[inside] - 25.5).max() <= 1.0


def test_slider_moves_its_own_depth_only():
    console = replace(SMALL, grey_map=GreyMap.EVEN)
    flat = picture(console).levels[0].astype(float).mean(axis=1)
    raised = picture(replace(console, tgc_db=(0, 0, 0, 0, 0, 6.0, 0, 0))).levels[0].astype(float).mean(axis=1)
    part = (np.arange(160) + 0.5) / 160 * 8

    assert np.abs(raised - flat)[(part < 4.4) | (part > 6.6)].max() < 0.5
    assert (raised - flat)[np.argmin(np.abs(part - 5.5))] == pytest.approx(25.5, abs=2)


def test_more_gain_shows_receiver_noise_at_depth():
    """Noise is amplified with the depth gain: in a dark cavity it comes up from below."""
    seen = [
        picture(replace(SMALL, gain_db=gain), scene=even(np, Tissue.CHEST_WALL)).levels[0].astype(float)
        for gain in (0.0, 30.0)
    ]

    assert seen[1][-20:].mean() > seen[0][-20:].mean() + 40


def test_persistence_mixes_the_last_picture_in():
    states = [state(10.0 * k) for k in range(3)]
    scene = even(np, shift_mm=lambda time_ms: (0.0, 0.0, time_ms))
    console = replace(SMALL, grey_map=GreyMap.EVEN)
    plain = render(scene, DOWN, PROBE, console, states, np.random.default_rng(1)).levels.astype(float)
    kept = render(
        scene, DOWN, PROBE, replace(console, persistence_fraction=0.5), states, np.random.default_rng(1)
    ).levels.astype(float)

    assert np.abs(kept[0] - plain[0]).max() == 0
    assert np.abs(kept[1] - (plain[0] + plain[1]) / 2).max() <= 1.0
    assert np.abs(kept[2] - (plain[0] / 4 + plain[1] / 4 + plain[2] / 2)).max() <= 1.5


def test_edge_enhancement_raises_local_differences():
    plain = picture(SMALL).levels[0].astype(float)
    sharp = picture(replace(SMALL, edge_enhancement_fraction=0.6)).levels[0].astype(float)
    middle = slice(40, 120)

    assert np.diff(sharp[middle], axis=0).std() > 1.15 * np.diff(plain[middle], axis=0).std()


def test_reject_blackens_weak_echoes_and_leaves_the_rest():
    console = replace(SMALL, grey_map=GreyMap.EVEN)
    plain, cut = picture(console).levels, picture(replace(console, reject_fraction=0.5)).levels

    assert np.all(cut[plain < 126] == 0)
    assert np.all(cut[plain > 129] == plain[plain > 129])


@pytest.mark.parametrize("with_rib", [False, True])
def test_strict_array_library_gives_the_same_picture(with_rib):
    """The field and the blur keep to the array API standard."""
    console = replace(SMALL, n_looks=2, edge_enhancement_fraction=0.3, reject_fraction=0.05)
    with_numpy = picture(console, scene=stand_in_heart(np, with_rib=with_rib))
    strict = picture(console, scene=stand_in_heart(array_api_strict, with_rib=with_rib), xp=array_api_strict)

    difference = np.abs(np.asarray(strict.levels).astype(int) - with_numpy.levels.astype(int))

    assert difference.max() <= 1
    assert (difference > 0).mean() < 0.01


def test_same_seed_gives_the_same_clip_and_another_seed_another():
    first, again, other = picture(SMALL, 7).levels, picture(SMALL, 7).levels, picture(SMALL, 8).levels

    assert np.array_equal(first, again)
    assert (first != other).mean() > 0.5


def test_clip_without_states_is_refused():
    with pytest.raises(ValueError, match="at least one state"):
        render(even(np), DOWN, PROBE, SMALL, [], np.random.default_rng(0))
