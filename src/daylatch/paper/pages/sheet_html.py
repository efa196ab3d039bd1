"""The sitter's sheet as a page for browsers, which prints on one sheet and fetches nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.files.own import page_is_by
from daylatch.paper.pages.card_html import lay_out_page

if TYPE_CHECKING:
    from daylatch.paper.card import Card
    from daylatch.paper.pages.papers import Paper

_GENERATOR = "daylatch sitter sheet"
wrote = page_is_by(_GENERATOR)


def render(card: Card, paper: Paper) -> bytes:
    """Return the page; parameters and what it raises are those of the card's."""
    return lay_out_page(card, paper, _GENERATOR)
