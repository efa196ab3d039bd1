"""Where everything on the card stands, as large as one page allows; all lengths in points.

The page is composed at a scale, again and again, until the largest that fits is found. The
printed form paints what stands here piece by piece; the form for browsers takes over sizes,
columns and blocks, and lets the browser break the lines.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from daylatch.door.works.rows import RowsOf
from daylatch.errors import UsageError
from daylatch.paper.pages.card_columns import (
    AFTER_TIMES,
    BOLD,
    DOOR,
    SMALLEST_PERCENT,
    TICKED,
    Column,
    Sizes,
    begins_group,
    cell_words,
    column_gap,
    has_note,
    is_roomy,
    lay_columns,
)
from daylatch.paper.pages.papers import PT_PER_MM, Paper
from daylatch.paper.pages.ruler import Ruler
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fpdf import FPDF

    from daylatch.paper.card import Box, Card, Row

MARGIN = 12 * PT_PER_MM
"""Room for pins, and for printers that do not reach the edge [pt]."""
BOX = "\N{WHITE SQUARE}"
"""Stands for a character that the font lacks."""
LINE = 1.28
"""From line to line of text, in sizes of the text."""
STRETCH = 0.8
"""How much of its text's size a row may grow by where there is room."""
BLOCK_GAP, SECTION_GAP, BOX_PAD = 18.0, 9.0, 6.0
BY_HAND_SHARE = 0.62
"""How much of the width the words on working by hand take."""
EVEN_SHARE = 0.5
"""The same of the boxes of a sheet that is written on."""
PEN_LINE = 19.0
"""How far lines to write on stand apart: room for handwriting [pt]."""
_MARKS_TITLE = "Clock changes (+) and days of their own"
_MARKS_OF_A_SHEET = "Clock changes, and what marks mean"
_REMINDERS_TITLE = "Head count, and the door's clock"
_HEADS_TITLE = "Head count"
MARKS_SHARES = (0.5, 0.64)
_LARGEST_PERCENT, _ROOMY_PERCENT = 125, 260
_ROOMY_STRETCH = 1.8
_OF_A_SHEET = ("by_hand", "call", "if_missing", "if_hurt", "report")
_MOST_BLOCKS = 3


class PlacedText(NamedTuple):
    """A line of text, from the left end of its base line."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False


class Stroke(NamedTuple):
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float
    width: float


@dataclass
class Sheet:
    """A composed page."""

    paper: Paper
    sizes: Sizes
    columns: tuple[Column, ...] = ()
    blocks: tuple[tuple[Row, ...], ...] = ()
    row_height: float = 0.0
    marks_share: float = 0.5
    texts: list[PlacedText] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    bottom: float = 0.0


def with_box(card: Card, unknown: Iterable[str], box: str) -> Card:
    """Return a card in whose texts a box stands for each unknown character."""
    table = {ord(character): box for character in unknown}
    return replace(
        card,
        name=card.name.translate(table),
        place=card.place.translate(table),
        reader=card.reader.translate(table),
        boxes=tuple(replace(box, own=box.own.translate(table)) for box in card.boxes),
        notes=card.notes.translate(table),
        rows=tuple(replace(row, shut=row.shut.translate(table)) for row in card.rows),
        marks=tuple((mark, text.translate(table)) for mark, text in card.marks),
    )


def box_share(card: Card) -> float:
    """Return how much of the width the left one of two boxes takes."""
    return BY_HAND_SHARE if card.birds is None else EVEN_SHARE


def marks_title(card: Card) -> str:
    """Return what stands above the meaning of the marks."""
    return _MARKS_TITLE if card.birds is None else _MARKS_OF_A_SHEET


def reminders_title(card: Card) -> str:
    """Return what stands above what is to be remembered."""
    return _REMINDERS_TITLE if card.monthly_check else _HEADS_TITLE


def lay_out(
    card: Card, paper: Paper, document: FPDF, *, spare: float = 0.0, spread: float = 1.0
) -> Sheet:
    """Return the card composed on one page, as large as it fits.

    Parameters
    ----------
    card
        All of its characters must be in the document's fonts.
    paper
        The page.
    document
        From `new_document`; its page stays empty.
    spare
        What is left free at the bottom [pt].
    spread
        As `Ruler` takes it.

    Raises
    ------
    UsageError
        If it does not fit even at the smallest size.
    """
    room = paper.height - MARGIN - spare
    ruler = Ruler(document, spread)
    found: Sheet | None = None
    roomy = is_roomy(card)
    smallest, largest = SMALLEST_PERCENT, _ROOMY_PERCENT if roomy else _LARGEST_PERCENT
    while smallest <= largest:
        percent = (smallest + largest) // 2
        fitting = _fitting(card, paper, ruler, Sizes.at(percent, roomy=roomy), room)
        if fitting is None:
            largest = percent - 1
        else:
            found, smallest = fitting, percent + 1
    if found is None:
        raise UsageError(_too_much(card, paper))
    return found


def _fitting(card: Card, paper: Paper, ruler: Ruler, sizes: Sizes, room: float) -> Sheet | None:
    """Return the card at these sizes in as few blocks of rows as fit; None if none do."""
    # A sheet that is written on has its rows right across.
    most_blocks = _MOST_BLOCKS if card.birds is None else 1
    for count in range(1, most_blocks + 1):
        composers = [_Composer(card, paper, ruler, sizes, count, share) for share in MARKS_SHARES]
        if not composers[0].columns:
            return None
        bottoms = [one.compose().bottom for one in composers]
        spare = room - min(bottoms)
        composer = composers[bottoms.index(min(bottoms))]
        if spare >= 0:
            most = max(map(len, composer.blocks))
            stretch = _ROOMY_STRETCH if is_roomy(card) else STRETCH
            more = min(spare / most, stretch * sizes.row)
            composer = replace(composer, more=more)
            return replace(composer, gap=room - composer.compose().bottom).compose()
    return None


def _too_much(card: Card, paper: Paper) -> str:
    remedies = "choose fewer days with --from and --until"
    if card.rows_of is RowsOf.WEEKS:
        remedies += ", or take --rows months"
    own = "".join(box.own for box in card.boxes) + card.notes
    keys = ["by_hand", "call"] if card.birds is None else list(_OF_A_SHEET)
    where = listed([*keys, "notes"] if card.notes else keys)
    reasons = sum(len(text) for _, text in card.marks) + sum(len(row.shut) for row in card.rows)
    lines = own.count("\n")
    return (
        f"{len(card.rows)} rows and the words that go with them ({len(own)} letters and {lines} "
        f"new lines in {where}, {reasons} letters about dated spans and clock changes) do not "
        f"fit one page of {paper.name} in a readable size: {remedies}"
        f"{', or shorten the words in the site file' if own or reasons else ''}"
    )


@dataclass(frozen=True)
class _Composer:
    """Puts the card together at one size.

    ``marks_share`` is how much of the width the meaning of the marks takes; ``more`` is added to
    the height of each row, ``gap`` to the room below the rows.
    """

    card: Card
    paper: Paper
    ruler: Ruler
    sizes: Sizes
    count: int
    marks_share: float = 0.5
    more: float = 0.0
    gap: float = 0.0

    @property
    def width(self) -> float:
        return self.paper.width - 2 * MARGIN

    @property
    def block_width(self) -> float:
        return (self.width - (self.count - 1) * BLOCK_GAP) / self.count

    @cached_property
    def columns(self) -> tuple[Column, ...]:
        """The columns of a block; none if they are wider than it."""
        return lay_columns(self.card, self.sizes, self.ruler, self.block_width)

    @cached_property
    def blocks(self) -> tuple[tuple[Row, ...], ...]:
        """The rows, shared out so that no block is much longer than another."""
        heights = [self.row_height(row) for row in self.card.rows]
        limit = sum(heights) / self.count
        while True:
            blocks: list[list[Row]] = [[]]
            filled = 0.0
            for row, height in zip(self.card.rows, heights, strict=True):
                if filled + height > limit and blocks[-1]:
                    blocks.append([])
                    filled = 0.0
                blocks[-1].append(row)
                filled += height
            if len(blocks) <= self.count:
                return tuple(map(tuple, blocks))
            limit += min(heights)

    def compose(self) -> Sheet:
        """Return the page."""
        sheet = Sheet(
            self.paper,
            self.sizes,
            self.columns,
            self.blocks,
            self.sizes.pitch + self.more,
            self.marks_share,
        )
        y = self.header(sheet, MARGIN)
        y = self.table(sheet, y + SECTION_GAP) + SECTION_GAP + self.gap
        y = self.boxes(sheet, y)
        y = self.reminders(sheet, y + SECTION_GAP)
        y += SECTION_GAP
        self.rule(sheet, MARGIN, y, self.width, 0.5)
        sheet.bottom = self.words(sheet, MARGIN, y + 4, self.card.caution, self.sizes.small)
        return sheet

    def words(
        self,
        sheet: Sheet,
        x: float,
        y: float,
        text: str,
        size: float,
        width: float | None = None,
        *,
        bold: bool = False,
    ) -> float:
        """Put a text and return where the next thing may begin."""
        for line in self.ruler.lines(text, size, width or self.width, bold):
            sheet.texts.append(PlacedText(x, y + size, line, size, bold))
            y += size * LINE
        return y

    def rule(self, sheet: Sheet, x: float, y: float, length: float, width: float) -> None:
        sheet.strokes.append(Stroke(x, y, x + length, y, width))

    def header(self, sheet: Sheet, y: float) -> float:
        card, sizes = self.card, self.sizes
        y = self.words(sheet, MARGIN, y, card.name, sizes.name, bold=True)
        y = self.words(sheet, MARGIN, y, card.headline, sizes.dates, bold=True)
        about = f"{card.place}. {card.clocks}" if card.place else card.clocks
        y = self.words(sheet, MARGIN, y + 2, about, sizes.small)
        self.rule(sheet, MARGIN, y + 4, self.width, 1.8)
        return self.words(sheet, MARGIN, y + 10, card.how_to_read, sizes.body)

    @property
    def times_left(self) -> float:
        """Where the times begin in a block."""
        return next(column.left for column in self.columns if column.key == "open")

    def row_height(self, row: Row) -> float:
        needed = len(self.shut_lines(row)) * self.sizes.shut * LINE + 0.3 * self.sizes.row
        return max(self.sizes.pitch + has_note(row) * self.sizes.head, needed)

    def shut_lines(self, row: Row) -> tuple[str, ...]:
        if not row.shut:
            return ()
        after = [column.left for column in self.columns if column.key in AFTER_TIMES]
        room = min(after, default=self.block_width) - self.times_left
        return self.ruler.lines(row.shut, self.sizes.shut, room, True)

    def table(self, sheet: Sheet, y: float) -> float:
        ends = []
        for number, rows in enumerate(sheet.blocks):
            x = MARGIN + number * (self.block_width + BLOCK_GAP)
            ends.append(self.block(sheet, x, y, rows))
        return max(ends)

    def block(self, sheet: Sheet, x: float, top: float, rows: Sequence[Row]) -> float:
        sizes = self.sizes
        y = self.heads(sheet, x, top)
        previous = None
        for row in rows:
            if previous is not None:
                heavy = begins_group(row, previous, self.card)
                self.rule(sheet, x, y, self.block_width, 1.2 if heavy else 0.25)
            previous = row
            height = self.row_height(row) + self.more
            lines = self.shut_lines(row)
            # Capitals are 0.73 of the size high; the first of several lines stands at the top.
            base = y + (height - has_note(row) * sizes.head + 0.73 * sizes.row) / 2
            if len(lines) > 1:
                base = y + (height - len(lines) * sizes.shut * LINE) / 2 + sizes.shut
            for column in sheet.columns:
                self.cell(sheet, x + column.left, base, column, row)
            for number, line in enumerate(lines):
                below = base + number * sizes.shut * LINE
                sheet.texts.append(PlacedText(x + self.times_left, below, line, sizes.shut, True))
            if not row.shut:
                self.divide(sheet, x, y, y + height)
            y += height
        self.rule(sheet, x, y, self.block_width, 0.9)
        return y

    def divide(self, sheet: Sheet, x: float, top: float, bottom: float) -> None:
        """Put the line before the door's clock."""
        for column in sheet.columns:
            if column.key == "door_open":
                at = x + column.left - column_gap(self.card, self.sizes)
                sheet.strokes.append(Stroke(at, top, at, bottom, 0.5))

    def heads(self, sheet: Sheet, x: float, y: float) -> float:
        size = self.sizes.head
        top = y
        if self.card.door_clock:
            for column in sheet.columns:
                if column.key in ("open", "door_open"):
                    text = PlacedText(x + column.left, y + size, column.clock, size, True)
                    sheet.texts.append(text)
            y += size * LINE
        deepest = max(len(column.head) for column in sheet.columns)
        for column in sheet.columns:
            for number, line in enumerate(column.head, deepest - len(column.head)):
                below = y + size + number * size * LINE
                left = x + column.left
                if column.key == "late":
                    left += column.width - self.ruler.width(line, size)
                sheet.texts.append(PlacedText(left, below, line, size))
        y += deepest * size * LINE + 2
        self.divide(sheet, x, top, y)
        self.rule(sheet, x, y, self.block_width, 0.9)
        return y

    def cell(self, sheet: Sheet, x: float, base: float, column: Column, row: Row) -> None:
        text, note = cell_words(column.key, row, self.card)
        size, bold = self.sizes.row, column.key in BOLD
        if column.key in TICKED:
            self.tick_box(sheet, x, base)
            return
        if column.key == "late":
            x += column.width - self.ruler.width(text, size)
        sheet.texts.append(PlacedText(x, base, text, size, bold))
        if note:
            head = self.sizes.head
            if column.key in DOOR:
                x += self.ruler.width(text, size) + 0.2 * size
            else:
                base += head
            sheet.texts.append(PlacedText(x, base, note, head))

    def tick_box(self, sheet: Sheet, x: float, base: float) -> None:
        """Put a square to tick, as high as capitals and standing where they do."""
        side = 0.73 * self.sizes.row
        self.frame(sheet, x, base - side, side, base, 0.8)

    def frame(
        self, sheet: Sheet, x: float, top: float, width: float, bottom: float, line: float
    ) -> None:
        """Put a rectangle."""
        corners = [(x, top), (x + width, top), (x + width, bottom), (x, bottom), (x, top)]
        for start, end in pairwise(corners):
            sheet.strokes.append(Stroke(*start, *end, line))

    def boxes(self, sheet: Sheet, y: float) -> float:
        """Put the boxes, pair by pair."""
        pairs = self.card.boxes
        for number in range(0, len(pairs), 2):
            y = self.pair(sheet, y + bool(number) * SECTION_GAP, pairs[number : number + 2])
        return y

    def pair(self, sheet: Sheet, y: float, boxes: Sequence[Box]) -> float:
        """Put two boxes: the keeper's own words, or lines to write them on by pen."""
        size = self.sizes.body
        left = self.width * box_share(self.card)
        sides = (
            (MARGIN, left - SECTION_GAP / 2),
            (MARGIN + left + SECTION_GAP / 2, self.width - left - SECTION_GAP / 2),
        )
        tops, bottoms = [], []
        for (x, width), box in zip(sides, boxes, strict=True):
            inner = width - 2 * BOX_PAD
            self.words(sheet, x + BOX_PAD, y + BOX_PAD, box.title, size, inner, bold=True)
            top = y + BOX_PAD + size * LINE + 2
            if box.plain:
                top = self.words(sheet, x + BOX_PAD, top, box.plain, size, inner)
            tops.append(top)
            if box.own:
                bottoms.append(self.words(sheet, x + BOX_PAD, top, box.own, size, inner))
            else:
                bottoms.append(top + box.pen_lines * PEN_LINE - BOX_PAD * bool(box.pen_lines))
        bottom = max(bottoms) + BOX_PAD
        for (x, width), box, top in zip(sides, boxes, tops, strict=True):
            self.frame(sheet, x, y, width, bottom, 1.0)
            if not box.own and box.pen_lines:
                for number in range(1, int((bottom - top) / PEN_LINE) + 1):
                    line = top + number * PEN_LINE - BOX_PAD
                    self.rule(sheet, x + BOX_PAD, line, width - 2 * BOX_PAD, 0.4)
        return bottom

    def reminders(self, sheet: Sheet, y: float) -> float:
        """Put clock changes and spans on the left, what to look after on the right."""
        card, size = self.card, self.sizes.body
        left = self.width * self.marks_share - BLOCK_GAP / 2
        right = MARGIN + left + BLOCK_GAP
        right_width = self.width - left - BLOCK_GAP
        left_y = self.words(sheet, MARGIN, y, marks_title(card), size, left, bold=True)
        room = self.ruler.width("m2", size, True) + 4
        for mark, text in card.marks:
            indent = room if mark else 0.0
            sheet.texts.append(PlacedText(MARGIN, left_y + size, mark, size, True))
            left_y = self.words(sheet, MARGIN + indent, left_y, text, size, left - indent)
        right_y = self.words(sheet, right, y, reminders_title(card), size, right_width, bold=True)
        for text in filter(None, (card.head_count, card.monthly_check, *card.of_place, card.notes)):
            right_y = self.words(sheet, right, right_y, text, size, right_width)
        return max(left_y, right_y)
