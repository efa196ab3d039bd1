"""Showing that something takes its time: on a terminal, and only after a moment."""

from __future__ import annotations

import contextlib
import datetime as dt
import sys
import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from rich.progress import Progress, ProgressColumn, Task, TaskID
    from rich.text import Text

_WIDTH, _PACED_WIDTH = 40, 12
PATIENCE_S = 2.0
"""What takes less shows nothing."""


@contextlib.contextmanager
def shown_progress(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """Give what work may call as (done, of) while it goes on; nothing is shown but on a terminal.

    Parameters
    ----------
    what
        What is being done, in a word or two.
    """
    if not sys.stderr.isatty():
        yield None
        return
    bar = _Bar(what)
    patience = threading.Timer(PATIENCE_S, bar.show)
    patience.daemon = True
    patience.start()
    try:
        yield bar.tell
    finally:
        patience.cancel()
        bar.end()


@contextlib.contextmanager
def shown_pace(what: str, of_what: str) -> Iterator[Callable[[int, int | None], None]]:
    """Give what work of minutes may call as (done, of); shown with its pace and when it ends.

    Parameters
    ----------
    what
        What is being done, in a word or two.
    of_what
        What is counted.
    """
    bar = _Bar(what, of_what) if sys.stderr.isatty() else None
    if bar is None:
        yield lambda _done, _of: None
        return
    bar.show()
    try:
        yield bar.tell
    finally:
        bar.end()


class _Bar:
    """A bar on standard error; it moves to and fro until the work tells how far it is.

    Parameters
    ----------
    what
        What is being done.
    counted
        What is counted, where its pace is shown.
    """

    def __init__(self, what: str, counted: str = "") -> None:
        self._what = what
        self._counted = counted
        self._lock = threading.Lock()
        self._done: tuple[int, int | None] | None = None
        self._shown: tuple[Progress, TaskID] | None = None
        self._ended = False

    def show(self) -> None:
        """Show it, unless the work is done by now."""
        from rich.console import Console  # noqa: PLC0415 - for what takes its time only
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn  # noqa: PLC0415

        pace = (_pace_of(self._counted),) if self._counted else ()

        with self._lock:
            if self._ended:
                return
            bar = Progress(
                TextColumn("{task.description}"),
                BarColumn(bar_width=_PACED_WIDTH if pace else _WIDTH),
                *(pace or (TimeElapsedColumn(),)),
                console=Console(stderr=True),
                # It leaves nothing behind.
                transient=True,
            )
            self._shown = bar, bar.add_task(self._what, total=None)
            bar.start()
            self._update()

    def tell(self, done: int, of: int | None) -> None:
        """Note how far the work is."""
        with self._lock:
            self._done = done, of
            self._update()

    def end(self) -> None:
        """Take it away."""
        with self._lock:
            self._ended = True
            if self._shown is not None:
                self._shown[0].stop()

    def _update(self) -> None:
        if self._shown is not None and self._done is not None:
            bar, task = self._shown
            bar.update(task, completed=self._done[0], total=self._done[1])


def _pace_of(counted: str) -> ProgressColumn:
    """Return a column of how many are done, how fast, and at what time the last one will be."""
    from rich.progress import ProgressColumn  # noqa: PLC0415 - for what takes its time only
    from rich.text import Text  # noqa: PLC0415

    class Pace(ProgressColumn):
        def render(self, task: Task) -> Text:
            words = [f"{task.completed:,.0f} {counted}"]
            if task.finished_speed or task.speed:
                words.append(f"{task.finished_speed or task.speed:,.0f}/s")
            if task.time_remaining:
                ends = dt.datetime.now().astimezone() + dt.timedelta(seconds=task.time_remaining)
                words.append(f"done at {ends:%H:%M:%S}")
            return Text(", ".join(words))

    return Pace()
