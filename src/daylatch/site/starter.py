"""The text of a new site file: what is needed, and every default as a comment."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daylatch.clock import WallTime


@dataclass(frozen=True)
class Start:
    """What a new site file says.

    Attributes
    ----------
    id : str
        A UUID.
    name : str
        What the keeper calls the house.
    latitude_deg, longitude_deg : float
        North and east positive.
    city : str
        Where the coordinates come from; empty if they were given.
    zone : str
        IANA name.
    fallback_open, fallback_close : WallTime or None
        Both or none.
    """

    id: str
    name: str
    latitude_deg: float
    longitude_deg: float
    city: str
    zone: str
    fallback_open: WallTime | None
    fallback_close: WallTime | None


def starter_text(start: Start) -> str:
    """Return the text of the file."""
    city = f"  # {start.city} (GeoNames)" if start.city else ""
    opening = _fallback(start.fallback_open, "05:30")
    closing = _fallback(start.fallback_close, "22:30")
    return f"""\
# A site file of daylatch: one place, one flock, one house, one door.
# Lines that begin with # are notes, or settings with their default that you can switch on.

# The permanent identity of this house, for calendars. Never change it, and never copy it to
# another house's file.
id = "{start.id}"
name = {_quoted(start.name)}
# notes = ""

[place]
latitude = {start.latitude_deg!r}{city}
longitude = {start.longitude_deg!r}
zone = {_quoted(start.zone)}

# When the door opens. "light" is sunrise, civil, nautical or astronomical (the Sun 0.8333, 6, 12
# or 18 degrees below the horizon), or any number of degrees.
[open]
light = "civil"
offset_min = 15
# not_before = "06:30"
# not_after = "09:00"
{opening}
# dark_fallback = "10:00"     # for days on which the Sun stays below that light

# When the door closes. The same keys, with sunset instead of sunrise.
[close]
light = "civil"
offset_min = 15
# not_before = "17:00"
# not_after = "22:00"
{closing}
# dark_fallback = "14:00"

# How long the door should at least be open [h]. A day that falls short is widened: "open earlier",
# "close later" or "both", but never past a limit above nor past the guard, where predators hunt.
[day]
least_open_h = 0
widen = "both"
guard = "nautical"

# How long each night should at least last [h]: "close earlier", "open later" or "both".
[night]
least_h = 0
lengthen = "both"

# When a person looks whether all birds are in.
[head_count]
after_close_min = 15
second_pass = false           # true: the door closes once more then

# What the door's own clock keeps: "wall" (with daylight saving), "standard" or "utc".
[door]
clock = "wall"

# What goes into a calendar file. show may list "reasons", "place" and "notes": whoever reads the
# calendar sees them, and a note that says you are away tells strangers so.
[calendar]
style = "movements"           # or "days": one all-day entry a day; or "steps": only when a
#                               time passes a step of so many minutes
step_min = 15                 # of style "steps": 5, 10, 15, 20, 30 or 60
times = "utc"                 # or "zone"
# reminder_min = 10           # before closing
# color = "seagreen"          # a colour by its CSS name
show = []

# What a calendar on the web (`daylatch feed`) may show besides the times: "name", "reasons",
# "place" and "notes", for anybody who has its address.
[feed]
show = []

# The birds and their house: what is left out counts as not known. Areas may be given in square
# feet: floor_ft2 instead of floor_m2.
[flock]
# birds = 6
# size = "medium"             # bantam, light, medium or heavy
# temperature = "mild"        # cold: water freezes; hot: above 32 C

[house]
# floor_m2 = 1.5
# roost_m = 1.8
# wall_m = 4.8                # the inside walls together
# nest_boxes = 2
# nest_box_cm = [34, 34, 34]  # width, depth, height
# vents_cm2 = 400
# feed_inside = false
# water_inside = false
# litter = true

[run]
# floor_m2 = 8
# joined = false              # can the birds reach it while the door is shut?
# covered = false

# The norms that the house is held against, by name: docs/reference/norms.md lists them.
[norms]
# roost = "roost-15-cm"
# long_night_h = 14           # longer lock-ins count as long
# awake_h = 2                 # more light than this behind a shut door: awake inside

# How long the day should be for laying [h], and a lamp that keeps it: "morning", "evening" or
# "both". A lamp in a dusty house can start a fire: see the cautions that come with its times.
[laying]
# wanted_h = 14
# lamp = "morning"
# weekly_step_min = 30

# A plain timer with fixed times, changed by hand: `daylatch settings` lists when, and to what.
[timer]
# tolerance_min = 20          # how late the door may move; or, instead: changes = 24
# on = "any"                  # or "month starts", or weekdays: ["saturday", "sunday"]
# together = true             # false: opening and closing are changed on dates of their own
# step_min = 1                # or 5, 10, 15, 30: times are rounded up
# follows_clock = true        # does the timer change to summer time by itself?
# clock_margin_min = 0        # how wrong its clock may be with the tolerance still kept
# programs = 8                # how many it holds; opening and closing take one each
# by_weekday = "same"         # or "each", or those with their own settings: ["saturday", "sunday"]

# How well the door's own clock keeps time: `daylatch drift` says when it must be set again.
[clock]
# accuracy_ppm = 20           # by its data sheet; 1 ppm is 31.5 s a year
# oscillator = "crystal"      # or "compensated" (for temperature), or "rc"
# coldest_c = -10             # where the clock is
# warmest_c = 30
# set_on = 2027-01-01         # when it was set last
# set_error_s = 60            # how wrong it may be then
# margin_min = 2              # how wrong it may become

# What the card by the door says in your own words.
[card]
# by_hand = "Pull the cord down and hook it in; the key hangs inside the feed bin."
# call = "Name, telephone"

# Dates on which something else holds; as many [[span]] as you like. Later ones win, key by key.
# [[span]]
# from = 2027-03-01
# until = 2027-03-14
# reason = "housing order"
# shut = true
#
# [[span]]
# from = 2027-05-01
# until = 2027-05-31
# reason = "young birds come in late"
# close.offset_min = 30       # or open.fixed = "08:00", day.least_open_h = 10, ...
"""


def _fallback(time: WallTime | None, example: str) -> str:
    note = "# for days on which the Sun stays above that light"
    return (
        f'fallback = "{time}"          {note}'
        if time
        else f'# fallback = "{example}"        {note}'
    )


def _quoted(text: str) -> str:
    """Return a TOML basic string (whose escapes are those of JSON)."""
    return json.dumps(text, ensure_ascii=False)
