"""What the site file calls the kinds of entries of a diary, and what stamps them.

What they mean is in `daylatch.diary.entries`.
"""

from __future__ import annotations

ENTRY_KINDS = (
    "last_in",
    "first_out",
    "all_in",
    "still_out",
    "waiting",
    "none_waiting",
    "seen_open",
    "seen_shut",
    "opened",
    "shut",
    "opened_by_hand",
    "shut_by_hand",
    "clock_said",
    "clock_set",
    "in_use",
    "battery_v",
    "lost",
    "gained",
    "hurt",
    "note",
)
STAMPS = ("phone", "server", "door", "memory")
MOST_STAMP_MIN = 720
"""How unsure the moment of an entry may be at most, either way [min]."""
