"""A picture as PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.files.own import pdf_is_by
from daylatch.paper.pictures.saving import MADE_BY, maker, save

if TYPE_CHECKING:
    from daylatch.paper.pictures.style import Picture

wrote = pdf_is_by(MADE_BY)


def render(picture: Picture) -> bytes:
    """Return a picture as a file, with what it says in words and without a date."""
    words = {"Title": picture.title, "Subject": picture.description}
    return save(picture, "pdf", {"Creator": maker(), **words, "CreationDate": None})
