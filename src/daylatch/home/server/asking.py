"""Who asks, and when."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from starlette.requests import Request


def peer_of(request: Request) -> str:
    """Return from which address somebody asks."""
    return request.client.host if request.client is not None else ""


def seconds() -> float:
    """Return what a clock shows that only goes on [s]."""
    return asyncio.get_running_loop().time()
