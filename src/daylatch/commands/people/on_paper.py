"""What the card and the sitter's sheet share: how one is put on a page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.commands.extras import warn_about_letters

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.files.forms import Form
    from daylatch.files.occasion import Occasion
    from daylatch.paper.card import Card
    from daylatch.paper.pages.card_pdf import Rendered
    from daylatch.paper.pages.papers import Paper


def put_on_page(
    form: Form,
    write: Callable[..., Any],
    card: Card,
    paper: Paper,
    occasion: Callable[[], Occasion],
) -> bytes:
    """Return the page of a card in a form, after a warning about letters that its font lacks.

    Parameters
    ----------
    form
        ``html`` or ``pdf``.
    write
        The ``render`` of its module.
    card, paper
        What it says, and on what.
    occasion
        When it is made, for forms that say so.

    Raises
    ------
    UsageError
        If it does not fit.
    """
    if form.name == "html":
        page: bytes = write(card, paper)
        return page
    made: Rendered = write(card, paper, occasion().stamp_utc)
    warn_about_letters(
        made.unknown, "; a file ending in .html takes what it lacks from your browser"
    )
    return made.content
