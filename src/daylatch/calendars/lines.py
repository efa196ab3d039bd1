"""The lines of a calendar file: the library's, each made no more often than it must be.

A year's calendar has ten thousand lines, and in most entries most of them are the same. The library
makes each anew, and looks at each letter of it for where to fold.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from icalendar.parser import Contentline

if TYPE_CHECKING:
    from collections.abc import Iterator

    from icalendar import Component

# A line has at most 75 octets (RFC 5545, 3.1), of which the library uses 74.
_FOLDED_FROM = 75


class Lines:
    """Makes the lines of the components of one file; values that they share are written once."""

    def __init__(self) -> None:
        self._orders: dict[tuple[str, ...], list[str]] = {}
        # With the value itself, since another could have its id once it is gone.
        self._of_values: dict[tuple[str, int], tuple[object, Contentline]] = {}

    def of(self, component: Component) -> Iterator[Contentline]:
        """Yield the lines of a component with those within, as ``content_lines`` does, unfolded."""
        name = str(component.name)
        yield Contentline(f"BEGIN:{name}")  # type: ignore[no-untyped-call]
        names = (name, *component)
        if names not in self._orders:
            self._orders[names] = component.sorted_keys()
        for key in self._orders[names]:
            yield self._line(component, key, component[key])
        for within in component.subcomponents:
            yield from self.of(within)
        yield Contentline(f"END:{name}")  # type: ignore[no-untyped-call]

    def file(self, component: Component) -> bytes:
        """Return a component as ``to_ical`` does."""
        return b"".join(_folded(line) + b"\r\n" for line in self.of(component))

    def _line(self, component: Component, key: str, value: Any) -> Contentline:
        known = self._of_values.get((key, id(value)))
        if known is None:
            known = self._of_values[key, id(value)] = value, component.content_line(key, value)
        return known[1]


def _folded(line: Contentline) -> bytes:
    octets = line.encode()
    # Only then are its letters looked at one by one.
    return octets if len(octets) < _FOLDED_FROM else cast("Any", line).to_ical()
