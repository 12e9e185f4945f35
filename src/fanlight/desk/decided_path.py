"""The small path in the list as the mentor's acts leave it: kept beside the log, worked out anew when it changed."""

from __future__ import annotations

from collections.abc import Iterable

from fanlight.desk.decided import for_screen, hidden_clips
from fanlight.desk.desk import Desk
from fanlight.desk.hub import ALL
from fanlight.reference.desk import read_desk_settings
from fanlight.store import (
    DerivedKind,
    keep_derived,
    latest_coverages,
    path_bases,
    read_derived,
    study_state,
)
from fanlight.study import Coverage


def decided_paths(desk: Desk, studies: Iterable[str]) -> dict[str, Coverage]:
    """Return what each study holds of its plan. One that changed since it was worked out follows by an event.

    Cheap: no reading is opened here. Studies without a draft are left out.
    """
    these = tuple(studies)
    bases = path_bases(desk.store, these)
    kept = read_derived(desk.store, DerivedKind.PATH, bases)
    found: dict[str, Coverage] = {}
    for study, basis in bases.items():
        coverage = kept[study].unpacked(Coverage) if study in kept else None
        if coverage is not None:
            found[study] = coverage
        if coverage is None or kept[study].basis != basis:
            desk.later.want((DerivedKind.PATH, study), lambda study=study: work_out_path(desk, study))  # type: ignore[misc]
    return latest_coverages(desk.store, (study for study in these if study not in found)) | found


def work_out_path(desk: Desk, study: str) -> None:
    """Work out the path of a study from its draft and its log, keep it, and tell the lists."""
    basis = path_bases(desk.store, (study,)).get(study)  # read first: what comes meanwhile makes it old
    draft = desk.draft(study)
    if basis is None or draft is None or desk.engine.state(study).state != "idle":
        return
    state = study_state(desk.store, study)
    clips = [item.clip.key for item in draft.readings]
    hidden = hidden_clips(study, clips, state, read_desk_settings(desk.house).blind_share)
    coverage = for_screen(draft, state, desk.house, hidden).coverage
    keep_derived(desk.store, DerivedKind.PATH, study, basis=basis, value=coverage)
    desk.hub.publish(ALL, "study", {"id": study})
