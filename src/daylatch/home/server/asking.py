"""Who asks, when, what they send, and how they are told something in a few sentences."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from starlette.responses import HTMLResponse

from daylatch.home.page.render import HEADERS, render_message

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from daylatch.home.page.render import Message


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


def has_already(request: Request, tag: str) -> bool:
    """Return whether who asks has it already (RFC 9110, If-None-Match)."""
    given = ",".join(request.headers.getlist("if-none-match"))
    return any(one.strip().removeprefix("W/") in (tag, "*") for one in given.split(","))


def root_of(request: Request) -> str:
    """Return how an answer leads to the home's beginning.

    Relative, since a proxy may pass on what lies below some path only.
    """
    return "/".join([".."] * (request.url.path.count("/") - 1)) or "."


def told(request: Request, status: int, message: Message) -> Response:
    """Return a page of a few sentences."""
    headers = {**HEADERS, "Cache-Control": "no-store"}
    return HTMLResponse(render_message(message, root_of(request)), status, headers=headers)


def peer_of(request: Request) -> str:
    """Return from which address somebody asks."""
    return request.client.host if request.client is not None else ""


def seconds() -> float:
    """Return what a clock shows that only goes on [s]."""
    return asyncio.get_running_loop().time()
