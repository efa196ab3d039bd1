"""What a house's networked door is told, made when it is asked for and kept while it holds."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Generic, TypeVar

from daylatch.clock import get_zone
from daylatch.commands.beside import stamp_of_files
from daylatch.commands.due import due_of
from daylatch.commands.now import any_now_utc, early_clock_words, is_before_rules
from daylatch.errors import DaylatchError
from daylatch.home.times.answer import Answer, answer_at
from daylatch.home.times.days import NoTimesError
from daylatch.home.times.month_table import dates_at, make_table
from daylatch.home.watch.look import unforeseen

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

    from daylatch.commands.home.source import Source

_T = TypeVar("_T")
_EARLY = "the clock of this computer is wrong, so that no times are told until it is set"
_NO_PLAN = "what is due cannot be told: its keeper finds the reason in the log of daylatch home"


class _Kept(Generic[_T]):
    """What was made last, and of what; or why it could not be, for the minute in which that was."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._of: object = None
        self._found: _T | NoTimesError | None = None

    def get(
        self,
        of: object,
        now: np.datetime64,
        make: Callable[[], _T],
        is_for: Callable[[_T], bool] = lambda _: True,
    ) -> _T:
        """Return what is kept, if it was made of the same and is for now; else make it."""
        with self._lock:
            found, minute = self._found, now.astype("datetime64[m]")
            if isinstance(found, NoTimesError):
                if self._of == (of, minute):
                    raise found
            elif found is not None and self._of == of and is_for(found):
                return found
            try:
                self._of, self._found = of, _made(make)
            except NoTimesError as error:
                self._of, self._found = (of, minute), error
                raise
            return self._found


class HouseTimes:
    """Tells the door of one house its times; several threads may ask.

    Parameters
    ----------
    source
        The house.
    """

    def __init__(self, source: Source) -> None:
        self._source = source
        self._answer = _Kept[Answer]()
        self._table = _Kept[bytes]()

    def times(self) -> bytes:
        """Return what should be now and the movements to come: `daylatch.home.times.answer`.

        Raises
        ------
        NoTimesError
            If that cannot be known.
        """
        now, site = _now(), self._source.site
        return self._answer.get(
            (site, stamp_of_files(site)),
            now,
            lambda: answer_at(site, now, due_of),
            lambda kept: kept.is_for(now),
        ).content

    def table(self) -> bytes:
        """Return the controller table of this month; making it takes some seconds.

        Raises
        ------
        NoTimesError
            If there can be none.
        """
        now, site = _now(), self._source.site
        today = get_zone(site.zone).date_at(now)
        return self._table.get((site, dates_at(today)), now, lambda: make_table(site, today))


def _now() -> np.datetime64:
    now = any_now_utc()
    if is_before_rules(now):
        raise NoTimesError(_EARLY, early_clock_words(now))
    return now


def _made(make: Callable[[], _T]) -> _T:
    """Return what is made, or say that it cannot be."""
    try:
        return make()
    except DaylatchError as error:
        raise NoTimesError(_NO_PLAN, "; ".join(error.lines)) from error
    except Exception as error:
        # Whatever it is, the door goes by what it has.
        raise NoTimesError(_NO_PLAN, unforeseen(error)) from error
