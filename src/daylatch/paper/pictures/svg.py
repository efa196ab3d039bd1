"""A picture as SVG, which says in words what it shows to those who cannot see it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from daylatch.paper.pictures.saving import MADE_BY, maker, save

if TYPE_CHECKING:
    from daylatch.paper.pictures.style import Picture

_START = f'<?xml version="1.0" encoding="utf-8"?>\n<!-- {MADE_BY}'.encode()
_PATH = re.compile(rb'(?<= d=")[^"]*')
_LONG_NUMBER = re.compile(rb"(\.\d{3})\d+")


def render(picture: Picture) -> bytes:
    """Return a picture as a file.

    What stands before the first element of a file as it is drawn points to a document type
    elsewhere; it is left out.
    """
    drawn = save(picture, "svg", {"Creator": maker(), "Date": None})
    _, _, body = drawn.partition(b"<svg ")
    attributes, _, rest = _PATH.sub(_shorter, body).partition(b">")
    words = f"<title>{escape(picture.title)}</title>\n <desc>{escape(picture.description)}</desc>"
    start = f'<?xml version="1.0" encoding="utf-8"?>\n<!-- {maker()} -->\n<svg role="img" '
    return b"".join([start.encode(), attributes, b">\n ", words.encode(), rest])


def wrote(content: bytes) -> bool:
    """Return whether a file's content is a picture that was made here."""
    return content.startswith(_START)


def _shorter(path: re.Match[bytes]) -> bytes:
    """Return the data of a path to a thousandth of a point."""
    return _LONG_NUMBER.sub(rb"\1", path[0])
