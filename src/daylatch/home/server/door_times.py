"""What a networked door asks for: its times, and its table."""

from __future__ import annotations

import asyncio
import hashlib
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Protocol

from starlette.responses import Response

from daylatch.home.server.asking import has_already
from daylatch.home.server.refused import RefusedError
from daylatch.home.times.days import NoTimesError

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request

PATIENCE_S = 10.0
"""How long a door waits for what is being made; a connection lasts longer."""
_LATER = {"Retry-After": "60"}
_TAG_DIGITS = 32


class TimesOfHouse(Protocol):
    """Tells the times of one house."""

    def times(self) -> bytes:
        """Return what should be now and the movements to come; may raise `NoTimesError`."""

    def table(self) -> bytes:
        """Return the controller table; may raise `NoTimesError`."""


class DoorTimes:
    """Answers doors with their times; the answers name the house by its id.

    They are made in threads of their own, one for each kind: whoever waits for a table, which takes
    seconds, keeps no thread from the reports, and those who ask for times do not wait for it.
    """

    def __init__(self) -> None:
        self._timing = ThreadPoolExecutor(1, "times")
        self._tabling = ThreadPoolExecutor(1, "table")

    async def times(self, request: Request, house: str, times: TimesOfHouse) -> Response:
        """Answer with what should be now and the movements to come."""
        content = await _made(self._timing, times.times)
        return _answer(request, house, content, "application/json")

    async def table(self, request: Request, house: str, times: TimesOfHouse) -> Response:
        """Answer with the controller table."""
        content = await _made(self._tabling, times.table)
        return _answer(request, house, content, "application/octet-stream")


async def _made(threads: ThreadPoolExecutor, make: Callable[[], bytes]) -> bytes:
    """Return what is made in a thread.

    Raises
    ------
    RefusedError
        If it cannot be made, or not soon; then it is made on, for the next who asks.
    """
    making = asyncio.get_running_loop().run_in_executor(threads, make)
    making.add_done_callback(_ended)
    try:
        return await asyncio.wait_for(asyncio.shield(making), PATIENCE_S)
    except TimeoutError as error:
        raise RefusedError(503, "it is being made: ask again in a minute", _LATER) from error
    except NoTimesError as error:
        raise RefusedError(503, str(error), _LATER, error.why) from error


def _ended(making: asyncio.Future[bytes]) -> None:
    # Nobody may be waiting for it any more; whoever asks next is told of its error.
    if not making.cancelled():
        making.exception()


def _answer(request: Request, house: str, content: bytes, kind: str) -> Response:
    tag = f'"{hashlib.sha256(content).hexdigest()[:_TAG_DIGITS]}"'
    headers = {
        "ETag": tag,
        # A table does not say whose it is.
        "Daylatch-House": house,
        # The board may keep it and asks again; nobody between keeps it.
        "Cache-Control": "private, no-cache",
        "X-Content-Type-Options": "nosniff",
    }
    if has_already(request, tag):
        return Response(status_code=304, headers=headers)
    return Response(content, media_type=kind, headers=headers)
