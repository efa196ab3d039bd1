"""What all CSV files (RFC 4180) have in common: how they are laid out, and what a cell may hold."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from typing import TYPE_CHECKING

from daylatch.arrays import Coded

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# What makes a spreadsheet read a cell as a formula, also behind blanks and in full width.
_FORMULA = frozenset("=+-@")
# What a cell has quotes around it for (RFC 4180, 2.6).
_QUOTED = re.compile(r'[",\r\n]')


def lay_out(header: Sequence[str], rows: Iterable[Sequence[object]], caution: str) -> bytes:
    """Return a file: UTF-8, CRLF.

    Parameters
    ----------
    header
        Its columns, of which the last is for the caution.
    rows
        The cells of the other columns.
    caution
        What closes the first row alone.
    """
    return lay_out_plain(
        header, ([*row, "" if index else caution] for index, row in enumerate(rows))
    )


def lay_out_plain(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Return a file without a caution: UTF-8, CRLF."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows(rows)
    return file.getvalue().encode()


def lay_out_columns(
    header: Sequence[str], columns: Sequence[list[str] | Coded[str]], caution: str
) -> bytes:
    """Return the file that `lay_out` would, from columns of text.

    Quotes are looked for column by column, or once for each value: a table of times has none.
    """
    written = [_written(column) for column in columns]
    count = len(written[0])
    written.append(_written([caution, *[""] * count][:count]))
    lines = [header, *zip(*written, strict=True)]
    return "".join(f"{','.join(line)}\r\n" for line in lines).encode()


def _written(column: list[str] | Coded[str]) -> list[str]:
    if isinstance(column, Coded):
        return column.each(_cell).column()
    return list(map(_cell, column)) if _QUOTED.search("".join(column)) else column


def _cell(text: str) -> str:
    """Return a text as a cell, in quotes if it needs them."""
    return '"{}"'.format(text.replace('"', '""')) if _QUOTED.search(text) else text


def defuse(text: str) -> str:
    """Return a cell that no spreadsheet takes for a formula: an apostrophe goes before it."""
    first = unicodedata.normalize("NFKC", text.lstrip()[:1])
    return f"'{text}" if first in _FORMULA or text.startswith(("'", "\t", "\r")) else text


def fuse(cell: str) -> str:
    """Return the text of a cell that `defuse` made."""
    return cell.removeprefix("'")
