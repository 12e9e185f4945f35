"""What happens, told to every open page in order; a page that comes back hears what it missed."""

from __future__ import annotations

import asyncio
import json
import secrets
import threading
from collections import OrderedDict, deque
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Any

ALL = ""  # the channel of the list of studies
_KEPT = 500  # happenings a study; a page that missed more loads the study anew
_STUDIES = 100
_WAITING = 2000  # a page that reads slower than this is cut off and comes back
_SIGN_OF_LIFE_S = 15.0


@dataclass(frozen=True, slots=True)
class _Happening:
    number: int  # 0: passing, not kept, has no id
    name: str
    data: str


@dataclass(frozen=True, slots=True)
class _Row:
    """What is kept of one channel. Up to the number `whole_from`, something of it may have been forgotten."""

    whole_from: int
    items: deque[_Happening]


@dataclass(eq=False, slots=True)
class _Listener:
    loop: asyncio.AbstractEventLoop
    queue: asyncio.Queue[_Happening | None]

    def hand(self, item: _Happening | None) -> None:
        """Put it in the queue; from any thread."""
        try:
            self.loop.call_soon_threadsafe(self._put, item)
        except RuntimeError:
            return  # its loop has ended

    def _put(self, item: _Happening | None) -> None:
        if self.queue.full():
            while not self.queue.empty():
                self.queue.get_nowait()
            item = None
        self.queue.put_nowait(item)


class Hub:
    """Hands happenings from any thread to listening pages.

    Ids are ``run-number``: numbers rise within one run of the service; after a restart a page is told to load anew.
    """

    def __init__(self) -> None:
        self._run = secrets.token_hex(4)
        self._number = 0
        self._kept: OrderedDict[str, _Row] = OrderedDict()
        self._forgotten = 0  # the highest number of a channel that is kept no more
        self._listeners: dict[str, set[_Listener]] = {}
        self._lock = threading.Lock()
        self._is_closed = False

    def last_id(self) -> str:
        """Return the id from which on a page that loads now must listen."""
        with self._lock:
            return f"{self._run}-{self._number}"

    def publish(self, study: str, name: str, data: Any, *, is_kept: bool = True) -> None:
        """Tell what happened; passing things, as progress, are not told again."""
        text = json.dumps(data, separators=(",", ":"), allow_nan=False)
        with self._lock:
            if is_kept:
                self._number += 1
                row = self._kept.setdefault(study, _Row(self._forgotten, deque(maxlen=_KEPT)))
                self._kept.move_to_end(study)
                while len(self._kept) > _STUDIES:
                    _, oldest = self._kept.popitem(last=False)
                    self._forgotten = max(self._forgotten, oldest.items[-1].number)
            happening = _Happening(self._number if is_kept else 0, name, text)
            if is_kept:
                row.items.append(happening)
            listeners = tuple(self._listeners.get(study, ()))
            for listener in listeners:  # within the lock, so that all hear in the same order
                listener.hand(happening)

    def close(self) -> None:
        """Send all listeners away."""
        with self._lock:
            self._is_closed = True
            for listeners in self._listeners.values():
                for listener in listeners:
                    listener.hand(None)

    def _missed(self, study: str, after: str) -> list[_Happening] | None:
        """Return what came after an id, or None when nobody can tell any more."""
        run, _, number = after.partition("-")
        if run != self._run or not number.isdigit() or int(number) > self._number:
            return None
        row = self._kept.get(study) or _Row(self._forgotten, deque())
        if int(number) < row.whole_from:  # so much happened elsewhere that something of this one may be forgotten
            return None
        if len(row.items) == _KEPT and row.items[0].number > int(number) + 1:
            return None
        return [item for item in row.items if item.number > int(number)]

    async def listen(self, study: str, after: str = "") -> AsyncIterator[str]:
        """Yield server-sent events (HTML standard, 9.2), for ever.

        Parameters
        ----------
        study : str
            Id of a study, or `ALL`.
        after : str
            Id of the last one that the page has; "" for a page that wants only what comes.
        """
        me = _Listener(asyncio.get_running_loop(), asyncio.Queue(_WAITING + 1))
        with self._lock:
            missed = self._missed(study, after) if after else []
            now = f"{self._run}-{self._number}"
            if not self._is_closed:
                self._listeners.setdefault(study, set()).add(me)
            is_closed = self._is_closed
        try:
            if missed is None:
                yield f"id: {now}\nevent: reset\ndata: {{}}\n\n"
            else:
                yield f"{'' if missed else f'id: {now}' + chr(10)}event: hello\ndata: {{}}\n\n"
            for item in missed or ():
                yield self._text(item)
            while not is_closed:
                try:
                    item_now = await asyncio.wait_for(me.queue.get(), _SIGN_OF_LIFE_S)
                except TimeoutError:
                    yield ": here\n\n"
                    continue
                if item_now is None:
                    return
                yield self._text(item_now)
        finally:
            with self._lock:
                self._listeners.get(study, set()).discard(me)
                if not self._listeners.get(study, True):
                    del self._listeners[study]

    def _text(self, item: _Happening) -> str:
        mark = f"id: {self._run}-{item.number}\n" if item.number else ""
        return f"{mark}event: {item.name}\ndata: {item.data}\n\n"
