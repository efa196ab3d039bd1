"""At which line of a TOML file each key stands.

The TOML reader of the standard library tells no positions. Here the text is cut into its
statements - the shortest runs of lines that parse - and each is given to that same reader, which
says what the statement adds.
"""

from __future__ import annotations

import tomllib
from typing import Any

# A statement that runs on for longer (a very long list) is placed at the line where it began.
_LONGEST_STATEMENT = 100


def lines_of_keys(text: str) -> dict[tuple[str | int, ...], int]:
    """Return the line, counted from one, of every table and key of a text that is good TOML.

    An entry of an array of tables is found by its index: ``("span", 0, "from")``.
    """
    found: dict[tuple[str | int, ...], int] = {}
    counts: dict[tuple[str | int, ...], int] = {}
    table: tuple[str | int, ...] = ()
    statement: list[str] = []
    begun = 1
    for number, line in enumerate(text.splitlines(), start=1):
        if not statement:
            begun = number
        statement.append(line)
        try:
            added = tomllib.loads("\n".join(statement))
        except tomllib.TOMLDecodeError:
            if len(statement) > _LONGEST_STATEMENT:
                statement = []
            continue
        first = statement[0].lstrip()
        statement = []
        if not added:
            continue
        if first.startswith("["):
            table = _table(added, first.startswith("[["), counts)
            found.setdefault(table, begun)
        else:
            for path in _paths(added):
                found.setdefault((*table, *path), begun)
    return found


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
