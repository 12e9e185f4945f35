"""Each study with what its newest request sheet says of trainee and practice."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Select, func, select

from fanlight.store.tables import ASSEMBLIES, STUDIES


def studies_with_sheets() -> Select[Any]:
    """Return a query for id, place (seq), trainee and practice of all studies of which the files are known."""
    sheet = ASSEMBLIES.alias()
    newest = select(func.max(sheet.c.seq)).where(sheet.c.study == STUDIES.c.id).scalar_subquery()
    return select(STUDIES.c.id, STUDIES.c.seq, ASSEMBLIES.c.trainee, ASSEMBLIES.c.practice).select_from(
        STUDIES.join(ASSEMBLIES, ASSEMBLIES.c.seq == newest)
    )
