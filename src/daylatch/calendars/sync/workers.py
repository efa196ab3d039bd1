"""Work that is given up when it takes too long, whatever it waits for."""

from __future__ import annotations

import threading
from concurrent.futures import Future, wait
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

T = TypeVar("T")


class TookTooLongError(Exception):
    """Work was given up; it may still be done, and nobody will hear of it."""


class Workers:
    """Threads that do one piece of work after another, as many as are needed at once.

    The timeouts of sockets bound each wait for a byte, not a request: names are looked up, lines
    are encrypted and heads come in for as long as the other side likes. The threads stay, since
    logins by Digest are remembered by thread; and none of them keeps the program from ending.
    """

    def __init__(self) -> None:
        self._work: SimpleQueue[tuple[Future[Any], Callable[[], Any]] | None] = SimpleQueue()
        self._idle = threading.Semaphore(0)
        self._threads = 0

    def do(self, work: Callable[[], T], within_s: float) -> T:
        """Return what a piece of work gives, or raise what it raises.

        Raises
        ------
        TookTooLongError
            If it is not done in time.
        """
        result: Future[T] = Future()
        if not self._idle.acquire(blocking=False):
            self._threads += 1
            threading.Thread(target=self._run, name="calendar request", daemon=True).start()
        self._work.put((result, work))
        if not wait([result], within_s).done:
            raise TookTooLongError
        return result.result()

    def close(self) -> None:
        """Let the threads end, each after what it is at."""
        for _ in range(self._threads):
            self._work.put(None)

    def _run(self) -> None:
        while (task := self._work.get()) is not None:
            result, work = task
            try:
                value = work()
            except BaseException as trouble:
                self._idle.release()
                result.set_exception(trouble)
            else:
                self._idle.release()
                result.set_result(value)
