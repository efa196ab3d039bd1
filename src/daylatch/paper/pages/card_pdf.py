"""The card by the door as a PDF file of one page, with its fonts in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import daylatch
from daylatch.files.own import pdf_is_by
from daylatch.paper.pages.card_layout import BOX, lay_out, with_box
from daylatch.paper.pages.ruler import choose_font, new_document, unknown_characters

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.paper.card import Card
    from daylatch.paper.pages.papers import Paper

_MADE_BY = "daylatch door card"
wrote = pdf_is_by(_MADE_BY)


class Rendered(NamedTuple):
    """A file, and the characters in whose place a box stands."""

    content: bytes
    unknown: list[str]


def render(card: Card, paper: Paper, made_utc: dt.datetime) -> Rendered:
    """Return the card as a file.

    Parameters
    ----------
    card
        What it says.
    paper
        The size of its page.
    made_utc
        When it was made.

    Raises
    ------
    UsageError
        If it does not fit.
    """
    return paint(card, paper, made_utc, _MADE_BY)


def paint(card: Card, paper: Paper, made_utc: dt.datetime, made_by: str) -> Rendered:
    """Return a card as a file, made by what tells its kind; else as `render`."""
    with new_document(paper) as document:
        unknown = unknown_characters(document, card.texts)
        sheet = lay_out(with_box(card, unknown, BOX), paper, document)
        for text in sheet.texts:
            choose_font(document, text.size, bold=text.bold)
            document.text(text.x, text.y, text.text)
        for stroke in sheet.strokes:
            document.set_line_width(stroke.width)
            document.line(stroke.x1, stroke.y1, stroke.x2, stroke.y2)
        document.set_title(f"{card.name}: {card.title.lower()}, {card.dates}")
        document.set_lang("en")
        document.set_creator(f"{made_by} {daylatch.__version__}")
        document.set_creation_date(made_utc)
        return Rendered(bytes(document.output()), unknown)
