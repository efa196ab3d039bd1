"""At which line of a TOML file each key stands.

The TOML reader of the standard library tells no positions. Here the text is cut into its
statements - at each line end that lies in no string and no bracket - and each is given to that
same reader, which says what the statement adds.
"""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

# What decides where a statement ends, in text that is good TOML: strings (one of three quotes may
# end with two more of its own), comments, brackets and line ends.
_MARKS = re.compile(
    r'''"""(?:\\.|[^\\])*?"{3,5}|\'{3}.*?'{3,5}|"(?:\\.|[^"\\])*"|'[^']*'|#[^\n]*|[\[\]{}\n]''',
    re.DOTALL,
)


def lines_of_keys(text: str) -> dict[tuple[str | int, ...], int]:
    """Return the line, counted from one, of every table and key of a text that is good TOML.

    An entry of an array of tables is found by its index: ``("span", 0, "from")``.
    """
    found: dict[tuple[str | int, ...], int] = {}
    counts: dict[tuple[str | int, ...], int] = {}
    table: tuple[str | int, ...] = ()
    for begun, statement in _statements(text):
        added = tomllib.loads(statement)
        first = statement.lstrip()
        if not added:
            continue
        if first.startswith("["):
            is_entry = first.startswith("[[")
            table = _table(added, is_entry, counts)
            if is_entry:
                found.setdefault(table[:-1], begun)
            found.setdefault(table, begun)
        else:
            for path in _paths(added):
                found.setdefault((*table, *path), begun)
    return found


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Yield the line and the text of each statement; comments and blank lines count as some."""
    start, begun, line, depth = 0, 1, 1, 0
    for mark in _MARKS.finditer(text):
        line += mark[0].count("\n")
        if mark[0] in {"[", "{"}:
            depth += 1
        elif mark[0] in {"]", "}"}:
            depth -= 1
        elif mark[0] == "\n" and depth == 0:
            yield begun, text[start : mark.start()].removesuffix("\r")
            start, begun = mark.end(), line
    yield begun, text[start:]


def _table(
    added: dict[str, Any], is_entry: bool, counts: dict[tuple[str | int, ...], int]
) -> tuple[str | int, ...]:
    """Return the path that a table's header opens."""
    path: tuple[str | int, ...] = ()
    inner: Any = added
    while isinstance(inner, dict) and inner:
        key, inner = next(iter(inner.items()))
        path = (*path, key)
        if path in counts and not (is_entry and isinstance(inner, list)):
            # A table inside the latest entry of an array of tables.
            path = (*path, counts[path] - 1)
    if is_entry:
        counts[path] = counts.get(path, 0) + 1
        path = (*path, counts[path] - 1)
    return path


def _paths(added: dict[str, Any]) -> list[tuple[str | int, ...]]:
    """Return the paths of a statement's keys, from the outside in."""
    paths: list[tuple[str | int, ...]] = []
    for key, value in added.items():
        paths.append((key,))
        if isinstance(value, dict):
            paths += [(key, *path) for path in _paths(value)]
        elif isinstance(value, list):
            paths += [(key, i) for i in range(len(value))]
    return paths
