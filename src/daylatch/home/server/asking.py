"""Who asks, when, and what they send."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from starlette.requests import Request


class TooLargeError(ValueError):
    """More was sent than anybody needs to."""


async def body_of(request: Request, most_bytes: int) -> bytes:
    """Return what was sent.

    Raises
    ------
    TooLargeError
        If that is too much; the rest is not read.
    """
    content = b""
    async for part in request.stream():
        content += part
        if len(content) > most_bytes:
            raise TooLargeError
    return content


def peer_of(request: Request) -> str:
    """Return from which address somebody asks."""
    return request.client.host if request.client is not None else ""


def seconds() -> float:
    """Return what a clock shows that only goes on [s]."""
    return asyncio.get_running_loop().time()
