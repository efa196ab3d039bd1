"""Doing what may hang without waiting for it for ever."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable


_T = TypeVar("_T")


def soon(seconds: float, work: Callable[[], _T]) -> _T | None:
    """Return what some work gives; None if it takes too long, or no thread can do it.

    What takes too long is given up, and the end of the program does not wait for it.

    Parameters
    ----------
    seconds
        How long it may take [s].
    work
        What is done; it raises nothing.
    """
    found: list[_T] = []
    working = threading.Thread(target=lambda: found.append(work()), daemon=True)
    try:
        working.start()
    except RuntimeError:
        # There can be no more threads.
        return None
    working.join(seconds)
    return found[0] if found else None
