"""A picture as PNG."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.paper.pictures.saving import MADE_BY, maker, save

if TYPE_CHECKING:
    from daylatch.paper.pictures.style import Picture

DPI = 200
_START = b"\x89PNG\r\n\x1a\n"
_SOFTWARE = b"tEXtSoftware\x00" + MADE_BY.encode()
_HEAD_BYTES = 4096


def render(picture: Picture) -> bytes:
    """Return a picture as a file, with what it says in words."""
    words = {"Title": picture.title, "Description": picture.description}
    return save(picture, "png", {"Software": maker(), **words}, dpi=DPI)


def wrote(content: bytes) -> bool:
    """Return whether a file's content is a picture that was made here."""
    return content.startswith(_START) and _SOFTWARE in content[:_HEAD_BYTES]
