"""The sitter's sheet as a PDF file of one page, with its fonts in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.files.own import pdf_is_by
from daylatch.paper.pages.card_pdf import paint

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.paper.card import Card
    from daylatch.paper.pages.card_pdf import Rendered
    from daylatch.paper.pages.papers import Paper

_MADE_BY = "daylatch sitter sheet"
wrote = pdf_is_by(_MADE_BY)


def render(card: Card, paper: Paper, made_utc: dt.datetime) -> Rendered:
    """Return the sheet as a file; parameters and what it raises are those of the card's."""
    return paint(card, paper, made_utc, _MADE_BY)
