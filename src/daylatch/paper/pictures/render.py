"""Files of pictures: the same picture gives the same bytes, and carries what it says in words."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

import daylatch
from daylatch.paper.pictures.style import looks

if TYPE_CHECKING:
    from daylatch.paper.pictures.style import Picture

FORMS = ("svg", "png", "pdf")
PNG_DPI = 200
_MADE_BY = "daylatch picture"
_SVG_START = f'<?xml version="1.0" encoding="utf-8"?>\n<!-- {_MADE_BY}'.encode()
_PNG_START = b"\x89PNG\r\n\x1a\n"
_HEAD_BYTES = 4096
_PATH = re.compile(rb'(?<= d=")[^"]*')
_LONG_NUMBER = re.compile(rb"(\.\d{3})\d+")


def render(picture: Picture, form: str) -> bytes:
    """Return a picture as a file.

    Parameters
    ----------
    picture
        From one of the drawing functions.
    form
        One of `FORMS`.
    """
    file = io.BytesIO()
    options: dict[str, Any] = {"metadata": _metadata(picture, form)}
    if form == "png":
        options["dpi"] = PNG_DPI
    with looks():
        picture.savefig(file, format=form, **options)
    content = file.getvalue()
    return _with_words(content, picture) if form == "svg" else content


def wrote(content: bytes, form: str) -> bool:
    """Return whether a file's content is a picture of that form that was made here."""
    match form:
        case "svg":
            return content.startswith(_SVG_START)
        case "png":
            software = b"tEXtSoftware\x00" + _MADE_BY.encode()
            return content.startswith(_PNG_START) and software in content[:_HEAD_BYTES]
        case _:
            return content.startswith(b"%PDF") and f"/Creator ({_MADE_BY}".encode() in content


def _maker() -> str:
    return f"{_MADE_BY} {daylatch.__version__}"


def _metadata(picture: Picture, form: str) -> dict[str, str | None]:
    """Return what a file says of itself; None leaves a date out."""
    match form:
        case "svg":
            # Its words are added afterwards.
            return {"Creator": _maker(), "Date": None}
        case "png":
            words = {"Title": picture.title, "Description": picture.description}
            return {"Software": _maker(), **words}
        case _:
            words = {"Title": picture.title, "Subject": picture.description}
            return {"Creator": _maker(), **words, "CreationDate": None}


def _with_words(content: bytes, picture: Picture) -> bytes:
    """Return an SVG file that says what it shows to those who cannot see it.

    What stood before its first element pointed to a document type elsewhere.
    """
    _, _, body = content.partition(b"<svg ")
    attributes, _, rest = _PATH.sub(_shorter, body).partition(b">")
    words = f"<title>{escape(picture.title)}</title>\n <desc>{escape(picture.description)}</desc>"
    start = f'<?xml version="1.0" encoding="utf-8"?>\n<!-- {_maker()} -->\n<svg role="img" '
    return b"".join([start.encode(), attributes, b">\n ", words.encode(), rest])


def _shorter(path: re.Match[bytes]) -> bytes:
    """Return the data of a path to a thousandth of a point."""
    return _LONG_NUMBER.sub(rb"\1", path[0])
