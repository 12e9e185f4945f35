"""What the rules of the Doppler ladder say of one valve: each broken rule with its words and the clips that tell."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from fanlight.reference.ladder import LadderRule
from fanlight.reference.views import View
from fanlight.reference.wording import find_phrases
from fanlight.study import Finding, LadderFinding, Mode, Rung, Valve, Verdict

SPECTRAL = (Rung.PULSED_WAVE, Rung.CONTINUOUS_WAVE)
# Criteria whose findings the rules read.
_WRAP, _AT_LIMIT, _OPEN, _MOSAIC = "spectrum_wrap", "spectrum_at_limit", "spectrum_open_edge", "colour_mosaic"
_ANGLE, _BEAT_WIDTH = "spectrum_angle", "spectrum_sweep"
_SPARE_BEATS = 0.1  # the column that a strip of three beats lacks at its end
_PERHAPS = "Perhaps, look at it yourself: {note} ({why})"
_RARE = "The sign that tells of it held too rarely to stand in a letter."
_PROPOSED = "The view is only proposed, from the pixels: confirm it."
_SENTENCE = re.compile(r"[.;!?\n]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class RungClip:
    """One clip at a valve, as the rules see it."""

    key: str
    number: int  # as the user counts
    view: str
    rung: Rung
    mode: Mode | None
    can_be_looked_at: bool  # diagnostic or limited for its rung
    is_of_this_valve: bool  # it is said, or the view carries no other
    is_proposed: bool = False  # the view was recognised, and nobody named it
    findings: tuple[Finding, ...] = ()  # sure enough to stand on
    hints: tuple[Finding, ...] = ()  # all others
    n_beats: float | None = None  # on a strip, by the width of a beat; None: not known

    def finding(self, criterion: str, *, surely: bool) -> Finding | None:
        """Return the finding of a criterion, any or only one that is sure enough to stand on; None for none."""
        asked = self.findings if surely else (*self.findings, *self.hints)
        return next((item for item in asked if item.criterion == criterion), None)

    def misses(self, *criteria: str, surely: bool) -> bool:
        """Whether one of these criteria is borderline or missed."""
        found = (self.finding(each, surely=surely) for each in criteria)
        return any(item is not None and item.verdict in (Verdict.BORDERLINE, Verdict.MISSED) for item in found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What report, sheet and reading say in words and numbers."""

    reported: tuple[tuple[str, str], ...] = ()  # quantity key, and the number as it was written
    reading: str = ""  # the trainee's own, free words


@dataclass(frozen=True, slots=True, kw_only=True)
class AtValve:
    """Everything the rules ask about one valve."""

    valve: Valve
    clips: tuple[RungClip, ...]  # at this valve
    two_d: tuple[RungClip, ...]  # of all placed clips, whichever valve
    may_hide: frozenset[Rung]  # rungs that a clip without a place may hold
    wants_continuous_wave: bool  # the plan asks for it at this valve, always or if needed
    views: Mapping[str, View] = field(repr=False)
    rules: Mapping[str, LadderRule] = field(repr=False)
    said: Said = Said()

    def of(self, *rungs: Rung) -> list[RungClip]:
        """Return the clips at these rungs."""
        return [clip for clip in self.clips if clip.rung in rungs]

    def broken(
        self, rule: str, clips: Iterable[RungClip] = (), *, is_sure: bool = True, why: str = _RARE, **words: str
    ) -> LadderFinding:  # fmt: skip
        """Return a finding in the words of the House."""
        clips = tuple(clips)
        listed = numbers_of(clips) or "none"
        text = self.rules[rule].note.format(valve=self.valve, clips=listed, **words)
        said = text if is_sure else _PERHAPS.format(note=text, why=why)
        return LadderFinding(rule=rule, words=said, clips=tuple(clip.key for clip in clips), is_sure=is_sure)


def numbers_of(clips: Iterable[RungClip]) -> str:
    """Return the numbers of clips as a reader lists them."""
    return ", ".join(str(number) for number in sorted({clip.number for clip in clips}))


def broken_rules(at: AtValve) -> tuple[LadderFinding, ...]:
    """Return the rules that the study does not keep at a valve; silent where a clip without a place may keep them."""
    return (*_two_d_first(at), *_colour_first(at), *_wrapped(at), *_jet(at), *_reported(at), *_no_leak(at), *_tried(at))


def _two_d_first(at: AtValve) -> list[LadderFinding]:
    if Rung.TWO_D in at.may_hide:
        return []
    doppler = at.of(Rung.COLOUR, *SPECTRAL)
    found = []
    for view in dict.fromkeys(clip.view for clip in doppler):
        if not any(clip.can_be_looked_at for clip in at.two_d if clip.view == view):
            here = [clip for clip in doppler if clip.view == view]
            named = [clip for clip in here if not clip.is_proposed]
            title = at.views[view].title
            found.append(at.broken("L1", named or here, is_sure=bool(named), why=_PROPOSED, view=title))
    return found


def _colour_first(at: AtValve) -> list[LadderFinding]:
    spectral = at.of(*SPECTRAL)
    if not spectral or Rung.COLOUR in at.may_hide or at.of(Rung.COLOUR):
        return []
    return [at.broken("L2", spectral)]


def _runs_out(clip: RungClip, *, surely: bool) -> bool:
    return clip.misses(_WRAP, _AT_LIMIT, surely=surely)


def _wrapped(at: AtValve) -> list[LadderFinding]:
    pulsed = [clip for clip in at.of(Rung.PULSED_WAVE) if clip.is_of_this_valve]
    wrapped = [clip for clip in pulsed if _runs_out(clip, surely=False)]
    holds = any(
        clip not in wrapped
        and (found := clip.finding(_WRAP, surely=False)) is not None
        and found.verdict is Verdict.MET
        for clip in pulsed
    )  # fmt: skip
    hidden = at.may_hide & set(SPECTRAL)
    if not wrapped or holds or hidden or not at.wants_continuous_wave or at.of(Rung.CONTINUOUS_WAVE):
        return []
    sure = [clip for clip in wrapped if _runs_out(clip, surely=True)]
    return [at.broken("L3", sure or wrapped, is_sure=bool(sure))]


def _shows_jet(clip: RungClip, *, surely: bool) -> bool:
    """A mosaic has a number where the scale was high enough for it to be the blood's."""
    found = clip.finding(_MOSAIC, surely=surely)
    return found is not None and found.verdict is not Verdict.MET and found.value is not None


def _jet(at: AtValve) -> list[LadderFinding]:
    jets = [clip for clip in at.of(Rung.COLOUR) if clip.is_of_this_valve and _shows_jet(clip, surely=False)]
    hidden = Rung.CONTINUOUS_WAVE in at.may_hide
    if not jets or hidden or not at.wants_continuous_wave or at.of(Rung.CONTINUOUS_WAVE):
        return []
    seen = [clip for clip in jets if _shows_jet(clip, surely=True)]
    sure = [clip for clip in seen if not clip.is_proposed]
    return [at.broken("L4", sure or seen or jets, is_sure=bool(sure), why=_PROPOSED if seen else _RARE)]


def _reported(at: AtValve) -> list[LadderFinding]:
    rule = at.rules["L5"]
    wanted = rule.quantities.get(at.valve, ())
    said = [words for quantity, words in at.said.reported if quantity in wanted]
    if not said or at.may_hide & set(SPECTRAL):
        return []
    gap, clips = _gap(at.of(*SPECTRAL), rule.least_beats, surely=True)
    is_sure = bool(gap)
    if not is_sure:
        gap, clips = _gap(at.of(*SPECTRAL), rule.least_beats, surely=False)
    if not gap:
        return []
    words = rule.gaps[gap].format(clips=numbers_of(clips), least=rule.least_beats)
    return [at.broken("L5", clips, is_sure=is_sure, said="; ".join(dict.fromkeys(said)), gap=words)]


def _gap(spectra: list[RungClip], least_beats: int, *, surely: bool) -> tuple[str, list[RungClip]]:
    """Return what is wanting for a velocity to stand on, "" for nothing, and the spectra that tell."""
    if not spectra:
        return "none", spectra
    whole = [clip for clip in spectra if not clip.misses(_WRAP, _AT_LIMIT, _OPEN, surely=surely)]
    if not whole:
        return "cut", spectra
    along = [clip for clip in whole if not clip.misses(_ANGLE, surely=surely)]
    if not along:
        return "aslant", whole
    lasting = [clip for clip in along if not _has_few_beats(clip, least_beats, surely=surely)]
    if not lasting:
        return "few_beats", along
    return ("one_window", lasting) if len({clip.view for clip in lasting}) < 2 else ("", [])


def _has_few_beats(clip: RungClip, least_beats: int, *, surely: bool) -> bool:
    is_told = clip.n_beats is not None and clip.finding(_BEAT_WIDTH, surely=surely) is not None
    return is_told and clip.n_beats is not None and clip.n_beats + _SPARE_BEATS < least_beats


def _no_leak(at: AtValve) -> list[LadderFinding]:
    rule = at.rules["L6"]
    words = {word: valve for valve, each in at.rules["L7"].valve_words.items() for word in each}
    said = []
    for sentence in _SENTENCE.split(at.said.reading):
        named = {words[word] for word in find_phrases(sentence, words)}
        # A phrase that speaks of no valve by itself speaks of those that its sentence names, else of all.
        said += [
            phrase
            for phrase in find_phrases(sentence, rule.phrases)
            if at.valve in (rule.phrases[phrase] or named or Valve)
        ]
    seen = [clip for clip in at.of(Rung.COLOUR) if clip.can_be_looked_at]
    if not said or Rung.COLOUR in at.may_hide or len({clip.view for clip in seen}) >= 2:
        return []
    return [at.broken("L6", seen, said=said[0])]


def _tried(at: AtValve) -> list[LadderFinding]:
    rule = at.rules["L7"]
    if at.of(*SPECTRAL) or at.may_hide & set(SPECTRAL):
        return []
    words = {word: valve for valve, each in rule.valve_words.items() for word in each}
    for sentence in _SENTENCE.split(at.said.reading):
        named = {words[word] for word in find_phrases(sentence, words)}
        said = find_phrases(sentence, rule.phrases)
        if said and at.valve in named:
            return [at.broken("L7", said=said[0])]
    return []
