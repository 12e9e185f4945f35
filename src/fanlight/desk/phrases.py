"""The phrase bank: sentences of the house, and those that mentors wrote here before; it grows with use."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from functools import lru_cache
from typing import Any

from sqlalchemy import func, select

from fanlight.coach.priorities import is_withheld
from fanlight.reference.desk import read_phrases
from fanlight.reference.handling import HandlingWords, Reach, read_handling
from fanlight.store import Store
from fanlight.store.tables import ENTRIES
from fanlight.study import Breathing, House

# Engineering judgement: what was written lately is what is written again, and the page must not wait for the rest.
_ENTRIES_LOOKED_AT = 20_000
_OWN_MOST = 40
_ACTION = "add finding"
OWN = "own words"
_OWN_KEY = "own-"


def phrase_bank(store: Store, house: House) -> list[dict[str, Any]]:
    """Return all phrases: those of the house in their order, then own words, the most used first.

    Each has a `key` that goes into the finding; that of own words is made from them. `withheld_when` holds what the
    request sheet may say of the breathing so that the phrase is not offered: one that touches the animal, or moves the
    probe on it, is held to the rule of all advice.
    """
    by_key, by_words = _used(store)
    handling = read_handling(house)
    shipped = [
        {"key": item.key, "words": item.words, "about": item.about, "view": item.view, "n_used": by_key[item.key],
         "withheld_when": _withheld_when(item.words, handling)}
        for item in read_phrases(house)
    ]  # fmt: skip
    known = {item["words"] for item in shipped}
    own = [(words, n) for words, n in by_words.most_common() if words not in known][:_OWN_MOST]
    return [
        *shipped,
        *(
            {"key": _own_key(words), "words": words, "about": OWN, "view": "", "n_used": n,
             "withheld_when": _withheld_when(words, handling)}
            for words, n in own
        ),
    ]  # fmt: skip


def _withheld_when(words: str, handling: HandlingWords) -> list[str]:
    reach = handling.reach(words)
    touches, moves = reach is Reach.TOUCHES, reach is Reach.MOVES
    return [said.value for said in Breathing if is_withheld(said, touches=touches, moves=moves)]


def _own_key(words: str) -> str:
    return f"{_OWN_KEY}{hashlib.sha256(words.encode()).hexdigest()[:12]}"


def _used(store: Store) -> tuple[Counter[str], Counter[str]]:
    """Count phrases by key and free words, each finding once however often it was reworded."""
    with store.database.read() as connection:
        newest = connection.execute(select(func.max(ENTRIES.c.seq))).scalar() or 0
        rows = connection.execute(
            select(ENTRIES.c.payload)
            .where(ENTRIES.c.seq > newest - _ENTRIES_LOOKED_AT, ENTRIES.c.action == _ACTION)
            .order_by(ENTRIES.c.seq)
        ).scalars()
        last = {finding: (key, words) for finding, key, words in map(_said, rows)}
    by_words = Counter(words for key, words in last.values() if key.startswith(_OWN_KEY))
    return Counter(key for key, _ in last.values()), by_words


@lru_cache(maxsize=_ENTRIES_LOOKED_AT)
def _said(payload: str) -> tuple[str, str, str]:
    """Return finding, key of the phrase and words of one entry: each page asks for the same thousands again."""
    said = json.loads(payload)
    return said["finding"], said.get("phrase") or _OWN_KEY, said["words"].strip()
