"""Things that take long to work out, worked out one after another beside the requests, each once."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Hashable

_LOG = logging.getLogger(__name__)
_PAUSE_S = 2.0  # before something that could not be done yet is tried again


class NotYetError(Exception):
    """Raised by a deed that cannot be done now: it is tried again after a while."""


class Later:
    """A thread that does what it is asked, in the order asked. Close it at the end."""

    def __init__(self) -> None:
        self._wanted: dict[Hashable, tuple[float, Callable[[], None]]] = {}  # from when on, monotonic s
        self._changed = threading.Condition()
        self._is_at_work = False
        self._is_closed = False
        self._thread: threading.Thread | None = None

    def want(self, name: Hashable, deed: Callable[[], None]) -> None:
        """Do it soon; asked again before it began, it is done once."""
        with self._changed:
            if self._is_closed:
                return
            self._wanted.setdefault(name, (0.0, deed))
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="later", daemon=True)
                self._thread.start()
            self._changed.notify_all()

    def is_busy(self) -> bool:
        """Whether something is still to be done."""
        with self._changed:
            return bool(self._wanted) or self._is_at_work

    def _work(self) -> None:
        while (task := self._next()) is not None:
            name, deed = task
            try:
                deed()
            except NotYetError:
                with self._changed:
                    self._wanted.setdefault(name, (time.monotonic() + _PAUSE_S, deed))
            except Exception:  # what it would have kept can be made again; who reads it asks anew
                _LOG.exception("could not work out %s", name)

    def _next(self) -> tuple[Hashable, Callable[[], None]] | None:
        """Wait for something that can be done and take it out; None when there is nothing more to do."""
        with self._changed:
            self._is_at_work = False
            while not self._is_closed:
                now = time.monotonic()
                for name, (from_s, deed) in self._wanted.items():
                    if from_s <= now:
                        del self._wanted[name]
                        self._is_at_work = True
                        return name, deed
                soonest = min((from_s for from_s, _ in self._wanted.values()), default=None)
                self._changed.wait(None if soonest is None else soonest - now)
            return None

    def close(self) -> None:
        """Stop; what was not begun is not done."""
        with self._changed:
            self._is_closed = True
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join(10)
