"""How each study stands: waiting or closed, urgent or not. Derived from the log, in the same transaction."""

from __future__ import annotations

from sqlalchemy import Connection, select

from fanlight.store.action_words import DocumentKind, Party
from fanlight.store.actions import UNDO, FlagUrgency
from fanlight.store.log_rows import entry_of
from fanlight.store.state import StudyState, fold
from fanlight.store.store import Store
from fanlight.store.tables import ASSEMBLIES, ENTRIES, STANDING, STUDIES

# Names of the actions that change how a study stands.
MOVES = ("flag urgency", "open call", "record call", "acknowledge call", "set closed", "sign", UNDO)


def is_closed(state: StudyState, needs_letter: bool) -> bool:
    """Return whether nothing waits.

    The summary is signed, the letter too where there is a trainee, or a mentor closed it; and no call is open.
    """
    if state.closing is not None:
        return state.closing.is_closed and not state.open_calls
    needed = {DocumentKind.SUMMARY, DocumentKind.LETTER} if needs_letter else {DocumentKind.SUMMARY}
    return needed <= set(state.signed) and not state.open_calls


def refresh_standing(connection: Connection, study: str) -> None:
    """Write anew how a study stands, after something was added to it."""
    rows = connection.execute(
        select(ENTRIES).where(ENTRIES.c.study == study, ENTRIES.c.action.in_(MOVES)).order_by(ENTRIES.c.seq)
    )
    state = fold(entry_of(row) for row in rows.mappings())
    sheet = connection.execute(
        select(ASSEMBLIES.c.is_urgent, ASSEMBLIES.c.trainee)
        .where(ASSEMBLIES.c.study == study)
        .order_by(ASSEMBLIES.c.seq.desc())
        .limit(1)
    ).first()
    said_on_sheet, needs_letter = (bool(sheet[0]), bool(sheet[1])) if sheet else (False, False)
    flag = state.urgency or FlagUrgency(is_urgent=said_on_sheet, said_by=Party.PRACTICE)
    made_at = connection.execute(select(STUDIES.c.made_at).where(STUDIES.c.id == study)).scalar_one()
    connection.execute(STANDING.delete().where(STANDING.c.study == study))
    connection.execute(
        STANDING.insert().values(
            study=study,
            made_at=made_at,
            is_closed=is_closed(state, needs_letter),
            rank=0 if flag.is_urgent else 1,
            said_by=flag.said_by.value if flag.is_urgent else "",
            reason=flag.reason if flag.is_urgent else "",
        )
    )


def rebuild_standing(store: Store) -> None:
    """Derive anew how every study stands, as after a restore."""
    with store.database.write() as connection:
        connection.execute(STANDING.delete())
        for study in connection.execute(select(STUDIES.c.id).order_by(STUDIES.c.seq)).scalars().all():
            refresh_standing(connection, study)
