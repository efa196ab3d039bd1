"""Text in a calendar file, as it was given."""

from __future__ import annotations

from icalendar import vText

_BACKSLASH = "\\"


class CalendarText(vText):
    r"""Text whose backslashes come through.

    The library takes ``\N`` in a text for a line break, so that ``C:\New`` would be torn in two.
    It is given the pieces between backslashes instead, and writes them and the backslashes apart
    (RFC 5545, 3.3.11).
    """

    def to_ical(self) -> bytes:
        """Return the escaped text, not yet folded."""
        if _BACKSLASH not in self:
            return super().to_ical()
        backslash = vText(_BACKSLASH).to_ical()
        return bytes(backslash.join(vText(piece).to_ical() for piece in self.split(_BACKSLASH)))
