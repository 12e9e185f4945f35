"""The small path in the list as the mentor's acts leave it: kept beside the log, worked out anew when it changed."""

from __future__ import annotations

from collections.abc import Iterable

from fanlight.desk.as_left import as_left
from fanlight.desk.blind import hidden_of, is_drawn, is_drawn_whole
from fanlight.desk.decided import for_screen
from fanlight.desk.desk import Desk
from fanlight.desk.hub import ALL
from fanlight.reference.desk import read_desk_settings
from fanlight.store import (
    DerivedKind,
    entries_of,
    fold,
    keep_derived,
    latest_coverages,
    path_bases,
    read_derived,
)
from fanlight.study import Coverage


def decided_paths(desk: Desk, studies: Iterable[str]) -> dict[str, Coverage]:
    """Return what each study holds of its plan. One that changed since it was worked out follows by an event.

    Cheap: no reading is opened here. Studies without a draft are left out, and so is, until it was worked out, one
    with clips that are to be judged before a proposal is shown.
    """
    these = tuple(studies)
    bases = path_bases(desk.store, these, house=desk.house.fingerprint())
    kept = read_derived(desk.store, DerivedKind.PATH, bases)
    found: dict[str, Coverage] = {}
    for study, basis in bases.items():
        row = kept.get(study)
        # One of another House may show what this one hides.
        coverage = row.unpacked(Coverage) if row is not None and row.basis.endswith(basis.made_with) else None
        if coverage is not None:
            found[study] = coverage
    drafted = latest_coverages(desk.store, (study for study in bases if study not in found))
    open_to_all = {study: item for study, item in drafted.items() if not _has_hidden(desk, study, item)}
    for study, basis in bases.items():
        is_held = study in found and kept[study].basis == str(basis)
        is_as_drafted = basis.entry == 0 and study in open_to_all
        if not is_held and not is_as_drafted:
            desk.later.want((DerivedKind.PATH, study), lambda study=study: work_out_path(desk, study))  # type: ignore[misc]
    return open_to_all | found


def _has_hidden(desk: Desk, study: str, coverage: Coverage) -> bool:
    """Return whether a path is of a covered study or has a clip that is judged blind, whether that was done or not."""
    share = read_desk_settings(desk.house).blind_share
    clips = (*(clip for step in coverage.steps for clip in step.clips), *coverage.unplaced)
    return any(is_drawn(study, clip, share) for clip in clips) or is_drawn_whole(desk, study)


def work_out_path(desk: Desk, study: str) -> None:
    """Work out the path of a study from its draft and its log, keep it, and tell the lists."""
    # Read first: what comes meanwhile makes it old.
    basis = path_bases(desk.store, (study,), house=desk.house.fingerprint()).get(study)
    draft = desk.own_draft(study)
    if basis is None or draft is None or desk.engine.state(study).state != "idle":
        return
    log = entries_of(desk.store, study)
    clips = [item.clip.key for item in draft.readings]
    hidden = hidden_of(desk, study, clips, log)
    coverage = for_screen(as_left(draft, fold(log), desk.house, hidden)).coverage
    keep_derived(desk.store, DerivedKind.PATH, study, basis=str(basis), value=coverage)
    desk.hub.publish(ALL, "study", {"id": study})
