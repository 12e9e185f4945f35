"""Things that take long to work out, worked out one after another beside the requests, each once."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Hashable

_LOG = logging.getLogger(__name__)


class Later:
    """A thread that does what it is asked, in the order asked. Close it at the end."""

    def __init__(self) -> None:
        self._wanted: dict[Hashable, Callable[[], None]] = {}
        self._changed = threading.Condition()
        self._is_at_work = False
        self._is_closed = False
        self._thread: threading.Thread | None = None

    def want(self, name: Hashable, deed: Callable[[], None]) -> None:
        """Do it soon; asked again before it began, it is done once."""
        with self._changed:
            if self._is_closed:
                return
            self._wanted.setdefault(name, deed)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="later", daemon=True)
                self._thread.start()
            self._changed.notify_all()

    def is_busy(self) -> bool:
        """Whether something is still to be done."""
        with self._changed:
            return bool(self._wanted) or self._is_at_work

    def _work(self) -> None:
        while True:
            with self._changed:
                self._is_at_work = False
                while not self._wanted and not self._is_closed:
                    self._changed.wait()
                if self._is_closed:
                    return
                name = next(iter(self._wanted))
                deed = self._wanted.pop(name)
                self._is_at_work = True
            try:
                deed()
            except Exception:  # what it would have kept can be made again; who reads it asks anew
                _LOG.exception("could not work out %s", name)

    def close(self) -> None:
        """Stop; what was not begun is not done."""
        with self._changed:
            self._is_closed = True
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join(10)
