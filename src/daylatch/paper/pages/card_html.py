"""The card by the door as a page for browsers, which prints on one sheet and fetches nothing."""

from __future__ import annotations

from itertools import groupby, islice
from typing import TYPE_CHECKING, NamedTuple

from daylatch.files.own import page_is_by
from daylatch.paper.pages import card_layout
from daylatch.paper.pages.card_columns import (
    AFTER_TIMES,
    BEFORE_TIMES,
    TICKED,
    begins_group,
    cell_words,
    column_gap,
    has_note,
)
from daylatch.paper.pages.card_layout import lay_out, with_box
from daylatch.paper.pages.ruler import new_document, unknown_characters
from daylatch.paper.pages.templates import get_template

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from daylatch.paper.card import Card, Row
    from daylatch.paper.pages.card_columns import Column
    from daylatch.paper.pages.card_layout import Sheet
    from daylatch.paper.pages.papers import Paper

_GENERATOR = "daylatch door card"
wrote = page_is_by(_GENERATOR)
# The browser takes other fonts for characters that ours lack: none is wider than this one, and
# none of its fonts for the others is wider than ours.
_WIDE = "\N{LATIN CAPITAL LETTER DZ WITH CARON}"
# Browsers round lengths, to whole pixels at times, and so set text a little wider: a line
# must not break where it was measured to fit.
_SPARE, _SPARE_OF_BOXES = 7.0, 6.0
_SPREAD = 1.02


class Cell(NamedTuple):
    """What stands in a column of a row."""

    key: str
    text: str
    note: str


class Line(NamedTuple):
    """A row, cell by cell, with the names of its style."""

    style: str
    cells: list[Cell]


class Head(NamedTuple):
    """A column, with its share of the block's width."""

    key: str
    head: tuple[str, ...]
    share: float


class Group(NamedTuple):
    """Neighbouring columns in one clock."""

    key: str
    clock: str
    span: int


def render(card: Card, paper: Paper) -> bytes:
    """Return the page.

    Parameters
    ----------
    card
        What it says.
    paper
        What it is printed on.

    Raises
    ------
    UsageError
        If it does not fit.
    """
    return lay_out_page(card, paper, _GENERATOR)


def lay_out_page(card: Card, paper: Paper, generator: str) -> bytes:
    """Return a card as a page, made by what tells its kind; else as `render`."""
    with new_document(paper) as document:
        measured = with_box(card, unknown_characters(document, card.texts), _WIDE)
        # A browser gives each pair of boxes its lines and the room for them besides.
        spare = _SPARE + (len(card.boxes) // 2 - 1) * _SPARE_OF_BOXES
        sheet = lay_out(measured, paper, document, spare=spare, spread=_SPREAD)
    gap = column_gap(card, sheet.sizes)
    page = get_template("card.html").render(
        generator=generator,
        card=card,
        paper=paper,
        sizes=sheet.sizes,
        row_height=sheet.row_height,
        columns=_heads(sheet, gap),
        groups=_groups(sheet.columns),
        blocks=_blocks(card, sheet),
        shut_columns=sum(
            column.key not in (*BEFORE_TIMES, *AFTER_TIMES) for column in sheet.columns
        ),
        is_written_on=card.birds is not None,
        ticked=TICKED,
        marks_title=card_layout.marks_title(card),
        reminders_title=card_layout.reminders_title(card),
        line=card_layout.LINE,
        margin=card_layout.MARGIN,
        column_gap=gap,
        block_gap=card_layout.BLOCK_GAP,
        section_gap=card_layout.SECTION_GAP,
        box_pad=card_layout.BOX_PAD,
        marks_share=sheet.marks_share,
        by_hand_share=card_layout.box_share(card),
        pen_line=card_layout.PEN_LINE,
    )
    return page.encode()


def _heads(sheet: Sheet, gap: float) -> list[Head]:
    """Return the columns, each with the gap before the next."""
    # The line before the door's clock stands in the middle of its gap.
    lefts = [column.left - gap * (column.key == "door_open") for column in sheet.columns]
    end = sheet.columns[-1].left + sheet.columns[-1].width
    widths = [after - left for left, after in zip(lefts, [*lefts[1:], end], strict=True)]
    return [
        Head(column.key, column.head, width / end)
        for column, width in zip(sheet.columns, widths, strict=True)
    ]


def _groups(columns: Sequence[Column]) -> list[Group]:
    groups = []
    for clock, some in groupby(columns, lambda column: column.clock):
        members = list(some)
        groups.append(Group(members[0].key, clock, len(members)))
    return groups


def _blocks(card: Card, sheet: Sheet) -> list[list[Line]]:
    # The composed rows are the measured ones, with other characters for some.
    rows = iter(card.rows)
    blocks = []
    for block in sheet.blocks:
        lines: list[Line] = []
        previous: Row | None = None
        for row in islice(rows, len(block)):
            begins = previous is not None and begins_group(row, previous, card)
            styles = ["group"] * begins + ["noted"] * has_note(row)
            lines.append(Line(" ".join(styles), list(_cells(row, sheet.columns, card))))
            previous = row
        blocks.append(lines)
    return blocks


def _cells(row: Row, columns: Sequence[Column], card: Card) -> Iterator[Cell]:
    told = False
    for column in columns:
        if row.shut and column.key not in (*BEFORE_TIMES, *AFTER_TIMES):
            if not told:
                yield Cell("shut", row.shut, "")
            told = True
            continue
        yield Cell(column.key, *cell_words(column.key, row, card))
