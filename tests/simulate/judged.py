"""Show a simulated clip to one criterion family, as the engine would."""

from __future__ import annotations

from fanlight.critique.accumulator import ClipContext, Family
from fanlight.reference.criteria import read_family
from fanlight.simulate.clip.one_beat import OneBeat
from fanlight.study import Finding, House


def judge(beat: OneBeat, family: Family, house: House) -> dict[str, Finding]:
    """Return the family's findings by criterion."""
    context = ClipContext(
        clip=beat.clip,
        patient=beat.patient,
        layout=beat.layout,
        mode=beat.mode,
        criteria=read_family(house, family.name),
    )
    work = family.start(context)
    for chunk in beat.chunks():
        work.add(chunk)
    return {finding.criterion: finding for finding in work.finish(beat.time)}
