"""One watcher a house: who watches holds a lock, which ends with the process however that ends."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from daylatch.errors import HomeError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


@contextmanager
def only_watcher(path: Path, who: Callable[[], str]) -> Iterator[None]:
    """Hold the lock of a house.

    Parameters
    ----------
    path
        Of the lock.
    who
        Says who holds it, if somebody else does.

    Raises
    ------
    HomeError
        If somebody else does, or there can be no lock.
    """
    import filelock  # noqa: PLC0415 - an extra

    lock = filelock.FileLock(path, timeout=0)
    try:
        lock.acquire()
    except filelock.Timeout as error:
        raise HomeError(f"{path}: the house is watched already, by {who()}") from error
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise HomeError(f"{path}: cannot be locked ({why}): look at the folder's rights") from error
    try:
        yield
    finally:
        lock.release()
