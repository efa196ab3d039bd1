"""Saving a picture, as its forms share it: the same picture gives the same bytes."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import daylatch
from daylatch.paper.pictures.style import looks

if TYPE_CHECKING:
    from collections.abc import Mapping

    from daylatch.paper.pictures.style import Picture

MADE_BY = "daylatch picture"


def maker() -> str:
    """Return what a file says of who made it."""
    return f"{MADE_BY} {daylatch.__version__}"


def save(picture: Picture, form: str, about: Mapping[str, str | None], **options: Any) -> bytes:
    """Return a picture as matplotlib writes it.

    Parameters
    ----------
    picture
        From one of the drawing functions.
    form
        The name of the form.
    about
        What the file says of itself; None leaves a date out.
    options
        Further options of the form.
    """
    file = io.BytesIO()
    with looks():
        picture.savefig(file, format=form, metadata=dict(about), **options)
    return file.getvalue()
