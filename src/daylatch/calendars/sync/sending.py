"""Sending the differences, several at a time, and counting what came of them."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from typing import TYPE_CHECKING, Protocol

from daylatch.calendars.sync.content import make_object
from daylatch.calendars.sync.differences import SENT, Difference, Kind, decide

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterable

    from daylatch.calendars.sync.content import Found
    from daylatch.calendars.sync.differences import Scope

AT_ONCE = 4
"""How many requests are under way; more is not kind to small servers."""
_TRIES = 2


class ChangedMeanwhileError(Exception):
    """An object is no longer what it was when it was read."""


class Store(Protocol):
    """What takes the entries of one calendar; each may raise `ChangedMeanwhileError`."""

    def add(self, uid: str, content: bytes) -> None:
        """Put a new entry."""

    def change(self, found: Found, content: bytes) -> None:
        """Replace an entry."""

    def remove(self, found: Found) -> None:
        """Remove an entry."""

    def entry(self, uid: str, found: Found | None) -> Found | None:
        """Return an entry as it is now; None if it is gone."""


class Sending:
    """The differences on their way.

    Parameters
    ----------
    store
        Where they go.
    scope
        What decides about entries that changed meanwhile.
    stamp_utc
        When new and changed entries are made.

    Attributes
    ----------
    counts : Counter of Kind
        What came of the entries so far.
    conflicts : list of Difference
        What was left as it is because it was edited elsewhere.
    sent : int
        How many entries the server has heard of.
    """

    def __init__(self, store: Store, scope: Scope, stamp_utc: dt.datetime) -> None:
        self.store = store
        self.scope = scope
        self.stamp_utc = stamp_utc
        self.counts: Counter[Kind] = Counter()
        self.conflicts: list[Difference] = []
        self.sent = 0

    def run(
        self,
        differences: Iterable[Difference],
        stop: Callable[[], None],
        on_progress: Callable[[int, int], None] | None = None,
    ) -> None:
        """Send them all; after the first trouble, nothing more is begun.

        Parameters
        ----------
        differences
            In their order.
        stop
            Called when nothing more is to be begun, so that nothing waits in vain.
        on_progress
            Called as (done, of) after each entry that was sent, from this thread.

        Raises
        ------
        CalendarServerError
            The first trouble; `counts` says what was done before.
        """
        telling, removing = [], []
        for one in differences:
            if one.kind is Kind.REMOVE:
                removing.append(one)
            elif one.kind in SENT:
                telling.append(one)
            else:
                self._note(one)
        to_send = len(telling) + len(removing)

        def tell() -> None:
            if on_progress is not None:
                on_progress(self.sent, to_send)

        # What takes a time away comes only after all that tell one.
        for batch in (telling, removing):
            self._send_all(batch, stop, tell)

    def _send_all(
        self,
        batch: list[Difference],
        stop: Callable[[], None],
        tell: Callable[[], None],
    ) -> None:
        pool = ThreadPoolExecutor(AT_ONCE, "calendar")
        jobs: set[Future[Difference]] = set()
        try:
            jobs = {pool.submit(self._send, one) for one in batch}
            for job in as_completed(tuple(jobs)):
                jobs.remove(job)
                self._note_sent(job.result())
                tell()
        except BaseException:
            stop()
            raise
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
            # What was under way when it stopped.
            for job in jobs:
                if job.done() and not job.cancelled() and job.exception() is None:
                    self._note_sent(job.result())

    def _note_sent(self, one: Difference) -> None:
        self.sent += 1
        self._note(one)

    def _note(self, one: Difference) -> None:
        self.counts[one.kind] += 1
        if one.kind is Kind.CONFLICT:
            self.conflicts.append(one)

    def _send(self, one: Difference) -> Difference:
        """Send one entry; if it changed meanwhile, look once more what is to be done."""
        for _ in range(_TRIES):
            try:
                self._do(one)
            except ChangedMeanwhileError:
                found = self.store.entry(one.uid, one.found)
                kind = decide(one.wanted, found, self.scope)
                # Gone meanwhile, and not wanted: there is nothing to do.
                one = Difference(kind or Kind.KEEP, one.uid, one.wanted, found)
                if one.kind not in SENT:
                    return one
            else:
                return one
        return Difference(Kind.CONFLICT, one.uid, one.wanted, one.found)

    def _do(self, one: Difference) -> None:
        if one.wanted is not None:
            content = make_object(one.wanted, self.scope.mark, one.found, self.stamp_utc)
            if one.found is None:
                self.store.add(one.uid, content)
            else:
                self.store.change(one.found, content)
        elif one.found is not None:
            self.store.remove(one.found)
