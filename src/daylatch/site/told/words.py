"""What a site file says, in a keeper's words: every table with a key in it, in a line or two.

The settings of a day and the door are told whether the file gives them or not, because they hold.
No login that an address may carry is ever told.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.clock import DoorClock, zone_rules_version
from daylatch.console import printable
from daylatch.site.calendar_styles import STYLES
from daylatch.site.measures import both_text
from daylatch.site.norms import sides_text
from daylatch.site.timer import TOLERANCE_MIN
from daylatch.site.told.chosen import chosen
from daylatch.site.told.span_words import describe_span, end_text, light_text
from daylatch.site.told.text import told_text
from daylatch.site.web_address import hide_login
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from pydantic import BaseModel

    from daylatch.site.feed import Feed
    from daylatch.site.housing import Flock, Floor, House, Laying, Run
    from daylatch.site.norms import Norms
    from daylatch.site.sync import Sync
    from daylatch.site.tables import Calendar, CardWords, Day, HeadCount, Night, Site
    from daylatch.site.timekeeping import Timekeeping
    from daylatch.site.timer import Timer

# To how many figures an area is told: the keeper measured it.
_FIGURES = 4
_DOOR = {
    DoorClock.WALL: "its clock keeps the wall clock's time, with its clock changes",
    DoorClock.STANDARD: "its clock keeps standard time all year",
    DoorClock.UTC: "its clock keeps UTC",
}


def describe_site(site: Site, place: str, rules: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield what a site file says, each line with its label.

    Parameters
    ----------
    site
        As it was read.
    place
        Where it is, in words.
    rules
        The settings of the two movements, in words.
    """
    settings = site.settings
    yield "Name", told_text(site.name)
    yield "Id", site.id
    if settings.head.notes:
        yield "Notes", told_text(settings.head.notes)
    yield "Place", printable(place)
    yield "Zone", f"{site.zone} ({site.zone_source.value}); zone rules {zone_rules_version()}"
    yield "Door", _DOOR[settings.door.clock]
    for rule in (*rules, *_nothing_asked(settings.day, settings.night)):
        yield "Rule", rule
    yield "Head count", _head_count(settings.head_count)
    for name, describe in _TABLES.items():
        table: BaseModel | None = getattr(settings, name)
        if table is not None and table.model_fields_set:
            words = "; ".join(describe(table))
            yield name.capitalize(), words[0].upper() + words[1:]
    for number, span in enumerate(settings.spans, start=1):
        yield f"Span {number}", describe_span(span, site.face)


def _nothing_asked(day: Day, night: Night) -> Iterator[str]:
    """Yield that no least open time or night is asked for, and how one of a span would be kept."""
    if not day.least_open_h:
        how = f"; one of a span is kept {end_text(day.widen)} (guard: {light_text(day.guard)})"
        yield f"No least open time{how if chosen(day, 'widen', 'guard') else ''}"
    if not night.least_h:
        how = f"; one of a span is kept {end_text(night.lengthen)}"
        yield f"No least night{how if chosen(night, 'lengthen') else ''}"


def _head_count(head_count: HeadCount) -> str:
    again = "; the door closes once more then" if head_count.second_pass else ""
    return f"{head_count.after_close_min} min after closing{again}"


def _calendar(calendar: Calendar) -> Iterator[str]:
    style = STYLES[calendar.style]
    yield f"{style.entries}{f' of {calendar.step_min} min' if style.holds_on else ''}"
    if not style.holds_on and chosen(calendar, "step_min"):
        yield f"in style steps, a step of {calendar.step_min} min"
    yield "times in UTC" if calendar.times == "utc" else "times named by the zone"
    if calendar.reminder_min is not None:
        yield f"a reminder {calendar.reminder_min} min before closing"
    if calendar.color is not None:
        yield f"in {calendar.color}"
    yield f"its readers see {_seen(calendar.show)}"


def _feed(feed: Feed) -> Iterator[str]:
    yield f"whoever has its address sees {_seen(feed.show)}"


def _seen(show: Sequence[str]) -> str:
    return f"the times and {listed(list(show))}" if show else "the times only"


def _card(card: CardWords) -> Iterator[str]:
    for label, text in (("by hand", card.by_hand), ("call", card.call)):
        yield f'{label}: "{told_text(text)}"' if text.strip() else f"{label}: nothing"


def _flock(flock: Flock) -> Iterator[str]:
    if flock.birds is not None:
        yield "1 bird" if flock.birds == 1 else f"{flock.birds} birds"
    if flock.size is not None:
        yield f"{flock.size} size"
    if flock.temperature is not None:
        yield f"the weather is mostly {flock.temperature}"


def _house(house: House) -> Iterator[str]:
    yield from _floor(house)
    if house.roost_m is not None:
        yield f"{house.roost_m:g} m of roost"
    if house.wall_m is not None:
        yield f"{house.wall_m:g} m of wall for roosts"
    if house.nest_boxes is not None:
        yield "1 nest box" if house.nest_boxes == 1 else f"{house.nest_boxes or 'no'} nest boxes"
    if house.nest_box_cm is not None:
        yield f"a nest box has {sides_text(tuple(house.nest_box_cm), 'cm')}"
    if house.vents_cm2 is not None:
        yield f"vents of {both_text((house.vents_cm2,), 'cm2', _FIGURES)}"
    for given, words in (
        (house.feed_inside, "feed inside"),
        (house.water_inside, "water inside"),
        (house.litter, "litter on the whole floor"),
    ):
        if given is not None:
            yield words if given else f"no {words}"


def _floor(floor: Floor) -> Iterator[str]:
    if floor.area_m2 is not None:
        unit = "m2" if floor.floor_ft2 is None else "ft2"
        yield f"floor of {both_text((floor.area_m2,), unit, _FIGURES)}"


def _run(run: Run) -> Iterator[str]:
    yield from _floor(run)
    if run.joined is not None:
        reach = "within" if run.joined else "out of"
        yield f"{reach} reach of the birds while the door is shut"
    if run.covered is not None:
        yield "with a roof" if run.covered else "without a roof"


def _laying(laying: Laying) -> Iterator[str]:
    counted = {"sunrise": "sunrise to sunset", "civil": "civil dawn to civil dusk"}
    yield f"a day of {laying.wanted_h:g} h is wanted, counted from {counted[laying.counts]}"
    yield {
        "none": "no lamp",
        "morning": "a lamp in the morning",
        "evening": "a lamp in the evening",
        "both": "a lamp in the morning and in the evening",
    }[laying.lamp]
    if laying.lamp_from is not None:
        yield f"the lamp begins on {laying.lamp_from}"
    if laying.lamp_until is not None:
        yield f"the lamp ends on {laying.lamp_until}"
    if laying.lamp != "none" or chosen(laying, "weekly_step_min"):
        yield f"a lamp changes the day by at most {laying.weekly_step_min} min a week"


def _norms(norms: Norms) -> Iterator[str]:
    for key, field in type(norms).model_fields.items():
        if key not in norms.model_fields_set:
            continue
        match key:
            case "awake_h":
                yield f"more than {norms.awake_h:g} h of light behind a shut door is awake inside"
            case "long_night_h":
                yield f"a lock-in of more than {norms.long_night_h:g} h is long"
            case _:
                norm = norms.norm(key)
                what = (field.description or key).rstrip(".")
                yield f"{what}: {norm.name}, {norm.wanted_text() or 'which goes by size'}"


def _timer(timer: Timer) -> Iterator[str]:
    if timer.changes is not None:
        apart = "" if timer.together else " each for opening and closing"
        yield f"at most {timer.changes} settings{apart}"
    else:
        yield f"at most {_or(timer.tolerance_min, TOLERANCE_MIN)} min late, never early"
    if timer.on == "any":
        yield "changed on any date"
    elif timer.on == "month starts":
        yield "changed on the first of a month"
    else:
        yield f"changed on {_weekdays(timer.on)}"
    if not timer.together:
        yield "opening and closing on dates of their own"
    yield f"steps of {timer.step_min} min"
    yield {
        None: "it keeps what the door's clock keeps",
        True: "it changes to summer time by itself",
        False: "it keeps standard time all year",
    }[timer.follows_clock]
    if timer.clock_margin_min:
        yield f"its clock may be {timer.clock_margin_min} min wrong"
    if timer.programs is not None:
        yield f"it holds {timer.programs} programs"
    if timer.by_weekday != "same":
        own = "each weekday" if timer.by_weekday == "each" else _weekdays(timer.by_weekday)
        yield f"settings of their own for {own}"


def _weekdays(days: str | Sequence[str]) -> str:
    return listed([day.capitalize() for day in days])


def _or(value: int | None, other: int) -> int:
    return other if value is None else value


def _clock(clock: Timekeeping) -> Iterator[str]:
    kind = {
        "crystal": "a plain crystal",
        "compensated": "a crystal compensated for temperature",
        "rc": "an RC oscillator",
    }[clock.oscillator]
    ppm = clock.accuracy_ppm
    yield f"{kind} of unknown accuracy" if ppm is None else f"{kind} of {ppm:g} ppm either way"
    if clock.coldest_c is not None:
        yield f"coldest {clock.coldest_c:g} °C"
    if clock.warmest_c is not None:
        yield f"warmest {clock.warmest_c:g} °C"
    on = "" if clock.set_on is None else f" on {clock.set_on}"
    yield f"set{on} to within {clock.set_error_s} s"
    yield f"it may become {clock.margin_min} min wrong"


def _sync(sync: Sync) -> Iterator[str]:
    if sync.calendar is not None:
        yield f'the calendar "{told_text(sync.calendar)}"'
    yield f"at {printable(hide_login(sync.url))}" if sync.url else "no address is given"
    yield f"kept from {sync.days_behind} days ago to {sync.days_ahead} days ahead"


_TABLES: dict[str, Callable[[Any], Iterator[str]]] = {
    "timer": _timer,
    "clock": _clock,
    "calendar": _calendar,
    "feed": _feed,
    "sync": _sync,
    "card": _card,
    "flock": _flock,
    "house": _house,
    "run": _run,
    "norms": _norms,
    "laying": _laying,
}
"""What tells each of the other tables."""
