"""Scores and grades that a publication defines; they speak only of a disease that has been named."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.reference.formulas.domain import SizeError, UndefinedError, positive


class ScoreError(UndefinedError):
    """An input or a total lies outside the published table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MitralScore:
    """Points of the mitral insufficiency score, and its class."""

    la_ao_points: int
    lviddn_points: int
    fs_points: int
    e_points: int
    total: int
    grade: str
    notes: tuple[str, ...] = ()


def _points(value: float, steps: tuple[float, ...], first_is_below: float) -> int:
    """Count: below the first limit 1 point, then one more beyond each upper step."""
    if value < first_is_below:
        return 1
    return 2 + sum(value > step for step in steps)


def mitral_score_grade(total: int) -> str:
    """Return the class of a total; ScoreError outside 4 to 14."""
    for limit, grade in ((5, "mild"), (7, "moderate"), (12, "severe"), (14, "late stage")):
        if 4 <= total <= limit:
            return grade
    raise ScoreError("total", "4 to 14", total, "add the points again")


def mitral_insufficiency_score(la_ao: float, lviddn: float, fs_percent: float, e_m_s: float) -> MitralScore:
    """Return the mitral insufficiency score of 2021 for a dog with myxomatous mitral valve disease.

    Parameters
    ----------
    la_ao : float
        Left atrium to aorta, short axis.
    lviddn : float
        LVIDd (cm) / BW^0.294.
    fs_percent : float
        Fractional shortening.
    e_m_s : float
        Mitral E.

    Raises
    ------
    SizeError
        If an input is not above 0.

    Notes
    -----
    The printed table leaves LVIDDN between 2.00 and 2.10 open; here it takes the higher band, and says so. LA:Ao is
    printed to two decimals (1.90 and 1.91 are neighbours); it is rounded to two decimals first.

    References
    ----------
    .. [Vezzosi2021] VEZZOSI2021, tables 1 and 2.

    Examples
    --------
    >>> mitral_insufficiency_score(2.2, 2.0, 48.0, 1.4).grade
    'severe'
    """
    for name, value in (("LA:Ao", la_ao), ("LVIDDN", lviddn), ("FS", fs_percent), ("E", e_m_s)):
        positive(name, value)
    ratio, size = round(la_ao, 2), round(lviddn, 2)
    points = (
        _points(ratio, (1.90, 2.50), 1.70),
        _points(size, (2.00, 2.30), 1.70),
        _points(fs_percent, (50.0,), 45.0),
        _points(round(e_m_s, 2), (1.50,), 1.20),
    )
    notes = (
        ("LVIDDN lies between 2.00 and 2.10, which the printed table leaves open; 3 points were taken.",)
        if 2.00 < size < 2.10
        else ()
    )
    return MitralScore(
        la_ao_points=points[0],
        lviddn_points=points[1],
        fs_points=points[2],
        e_points=points[3],
        total=sum(points),
        grade=mitral_score_grade(sum(points)),
        notes=notes,
    )


def feline_atrium_grade(la_ao: float) -> str:
    """Return how large a cat's left atrium is by LA:Ao in the short axis.

    Notes
    -----
    FELINECARD: mild 1.51 to 1.79, moderate 1.8 to 1.99, severe from 2.01; the book calls the grades informal. 2.00
    stands in no band and is taken as moderate.

    Raises
    ------
    SizeError
        If the ratio is not above 0.
    """
    ratio = round(positive("LA:Ao", la_ao), 2)
    for limit, grade in ((1.50, "not enlarged"), (1.79, "mild"), (2.00, "moderate")):
        if ratio <= limit:
            return grade
    return "severe"


def pulmonary_hypertension_probability(tricuspid_jet_m_s: float | None, sites_with_signs: int) -> str:
    """Return how probable pulmonary hypertension is in a dog: "low", "intermediate" or "high".

    Parameters
    ----------
    tricuspid_jet_m_s : float or None
        Peak velocity; None when it cannot be measured.
    sites_with_signs : int
        Of ventricles, pulmonary artery, right atrium with caudal vena cava: how many show signs, 0 to 3.

    Raises
    ------
    ScoreError
        If the number of sites lies outside 0 to 3.
    SizeError
        If the velocity is not above 0.

    Notes
    -----
    The table of REINERO2020 is remembered: confirm it before clinical use. 3.0 m/s is printed in two bands and taken
    as the lower one. Not valid when the right outflow is obstructed.
    """
    if sites_with_signs not in (0, 1, 2, 3):
        raise ScoreError("sites with signs", "0 to 3", sites_with_signs, "count each of the three sites once")
    jet = 0.0 if tricuspid_jet_m_s is None else positive("tricuspid jet", abs(tricuspid_jet_m_s))
    if jet > 3.4:
        return "high" if sites_with_signs >= 1 else "intermediate"
    if jet > 3.0:
        return "high" if sites_with_signs >= 2 else "intermediate"
    return ("low", "low", "intermediate", "high")[sites_with_signs]


def boxer_aortic_grade(gradient_mmhg: float) -> str:
    """Return the grade of aortic stenosis on the scale of one Boxer study (BOXERAS2006), "none" below 16 mmHg.

    Notes
    -----
    Other studies use other scales: keep the name of the scale with the grade.
    """
    gradient = positive("gradient", gradient_mmhg)
    if gradient < 16:
        return "none"
    # 40 and 75 mmHg are printed in two bands; the lower one is taken.
    return "mild" if gradient <= 40 else "moderate" if gradient <= 75 else "severe"


__all__ = [
    "MitralScore",
    "ScoreError",
    "SizeError",
    "boxer_aortic_grade",
    "feline_atrium_grade",
    "mitral_insufficiency_score",
    "mitral_score_grade",
    "pulmonary_hypertension_probability",
]
