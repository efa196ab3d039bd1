"""What in a site file contradicts: settings that are good alone and do not go together.

Nothing here stops a plan, and a slip that a reading warns of (`daylatch.site.reading.slips`) is not
told again. A default that is written down counts only for the door's clock and for what a calendar
shows. Each sentence names both settings and what would settle it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.clock import country_of
from daylatch.console import printable
from daylatch.site.choices.calendar_styles import STYLES
from daylatch.site.choices.oscillators import OSCILLATORS
from daylatch.site.messages import toml_text
from daylatch.site.table import chosen
from daylatch.site.timer import TOLERANCE_MIN
from daylatch.site.told.day_contradictions import day_contradictions
from daylatch.site.values.customs import norms_of
from daylatch.wording import listed

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from daylatch.site.tables import Site, SiteFile


def contradictions(site: Site, today: dt.date) -> Iterator[str]:
    """Yield a sentence for each pair of settings that do not go together.

    Parameters
    ----------
    site
        As it was read.
    today
        Its date there, for what is over.
    """
    settings = site.settings
    for found in (
        day_contradictions(site, today),
        _works(settings),
        _timer(settings, today),
        _clock(settings, today),
        _calendars(settings),
        _shown(settings),
        _birds(settings),
        _norms(site),
        _laying(settings, today),
        _watch(settings),
        _home(settings),
        _skyline(settings),
    ):
        yield from map(printable, found)


def _works(settings: SiteFile) -> Iterator[str]:
    door, timer = settings.door, settings.timer
    given = chosen(timer)
    if door.works != "timer" and given:
        yield (
            f"timer.{given[0]} = {toml_text(getattr(timer, given[0]))} and door.works = "
            f"{toml_text(door.works)}: these are the plan's times; the timer's come with "
            'works = "timer" under [door]'
        )
    if door.works != "controller" and door.within_min is not None:
        yield (
            f"door.within_min = {door.within_min} and door.works = {toml_text(door.works)}: only a "
            'controller\'s table has a width: take within_min out, or write works = "controller"'
        )


def _watch(settings: SiteFile) -> Iterator[str]:
    watch, mqtt, battery = settings.watch, settings.mqtt, settings.battery
    if watch is not None and "door" in watch.expects:
        return
    expects = toml_text(["head count"] if watch is None else watch.expects)
    default = " (the default)" if watch is None or "expects" not in watch.model_fields_set else ""
    for key, given in (
        ("mqtt.state", None if mqtt is None else mqtt.state),
        ("battery.low_v", None if battery is None else battery.low_v),
    ):
        if given is not None:
            yield (
                f"{key} = {toml_text(given)} and watch.expects = {expects}{default}: what the door "
                'reports is noted, and nothing of it raises an alarm: add "door" to expects'
            )


def _home(settings: SiteFile) -> Iterator[str]:
    home, mqtt = settings.home, settings.mqtt
    for one, other in (("certificate", "key"), ("key", "certificate")):
        if home is not None and getattr(home, one) is not None and getattr(home, other) is None:
            yield (
                f"home.{one} = {toml_text(getattr(home, one))} and no home.{other}: a certificate "
                f"is used with its key: give {other} too, or take {one} out"
            )
    if mqtt is None:
        return
    given = chosen(mqtt)
    if mqtt.host is None and given:
        yield (
            f"mqtt.{given[0]} = {toml_text(getattr(mqtt, given[0]))} and no mqtt.host: without a "
            "broker none of it is used: give host, or take [mqtt] out"
        )
    if mqtt.host is not None and not mqtt.topics and mqtt.alarm is None:
        yield (
            f"mqtt.host = {toml_text(mqtt.host)} and no topic: nothing is listened to: give state, "
            "link, battery, report or alarm"
        )
    if mqtt.words is not None and mqtt.state is None:
        yield (
            f"mqtt.words = {toml_text(mqtt.words)} and no mqtt.state: the words come on that "
            "topic: give state, or take words out"
        )


def _skyline(settings: SiteFile) -> Iterator[str]:
    skyline = settings.skyline
    if skyline is not None and skyline.lacking is not None:
        given = "azimuth" if skyline.lacking == "elevation" else "elevation"
        yield f"skyline.{given} and no skyline.{skyline.lacking}: {skyline.remedy}"


def _timer(settings: SiteFile, today: dt.date) -> Iterator[str]:
    timer, clock = settings.timer, settings.clock
    if timer is None or not timer.model_fields_set:
        return
    margin = timer.clock_margin_min
    tolerance = TOLERANCE_MIN if timer.tolerance_min is None else timer.tolerance_min
    if timer.changes is None and tolerance < 2 * margin:
        default = " (the default)" if timer.tolerance_min is None else ""
        yield (
            f"timer.clock_margin_min = {margin} and timer.tolerance_min = {tolerance}{default}: "
            f"the margin takes 2 x {margin} = {2 * margin} min of the tolerance: allow "
            f"{2 * margin} min or more, or a smaller margin"
        )
    if timer.changes is None and tolerance < timer.step_min - 1:
        default = " (the default)" if timer.tolerance_min is None else ""
        yield (
            f"timer.step_min = {timer.step_min} and timer.tolerance_min = {tolerance}{default}: "
            f"rounding up to its steps makes the timer up to {timer.step_min - 1} min late: allow "
            f"{timer.step_min - 1} min or more, or take a smaller step"
        )
    if (
        clock is not None
        and margin < clock.margin_min
        and (chosen(timer, "clock_margin_min") or chosen(clock, "margin_min"))
    ):
        yield (
            f"timer.clock_margin_min = {margin} and clock.margin_min = {clock.margin_min}: the "
            f"clock may become {clock.margin_min} min wrong before it is set again, and the "
            f"timer's list is good for {margin}: write clock_margin_min = {clock.margin_min} "
            "under [timer], or a smaller margin_min"
        )
    second = [("head_count.second_pass", settings.head_count.second_pass)]
    second += [
        (f"span {number} head_count.second_pass", span.head_count.second_pass)
        for number, span in enumerate(settings.spans, start=1)
        if span.head_count is not None and span.last >= today
    ]
    given = next(key for key in type(timer).model_fields if key in timer.model_fields_set)
    for key in (key for key, again in second if again):
        yield (
            f"{key} = true and timer.{given} = {toml_text(getattr(timer, given))}: a plain timer "
            "closes the door once a day: shut it by hand at the head count and write "
            "second_pass = false, or take [timer] out"
        )


def _clock(settings: SiteFile, today: dt.date) -> Iterator[str]:
    clock = settings.clock
    if clock is None:
        return
    for key in chosen(clock, "coldest_c", "coldest_f", "warmest_c", "warmest_f"):
        if not clock.kind.is_slowed:
            slowed = [kind for kind in OSCILLATORS.values() if kind.is_slowed]
            names = listed([toml_text(kind.name) for kind in slowed], "or")
            yield (
                f"clock.{key} = {toml_text(getattr(clock, key))} and clock.oscillator = "
                f"{toml_text(clock.oscillator)}: the temperature counts for "
                f"{listed([kind.words for kind in slowed])} only: take {key} out, or write "
                f"oscillator = {names}"
            )
    if chosen(clock, "set_error_s", "margin_min") and clock.set_error_s >= 60 * clock.margin_min:
        yield (
            f"clock.set_error_s = {clock.set_error_s} and clock.margin_min = {clock.margin_min}: "
            "the margin is used up by the setting alone: set the clock more exactly, or allow more"
        )
    if clock.set_on is not None and clock.set_on > today:
        yield (
            f"clock.set_on = {clock.set_on} and today is {today}: the clock cannot have been set "
            "last on a date to come: correct it, or take it out"
        )


def _calendars(settings: SiteFile) -> Iterator[str]:
    calendar, sync = settings.calendar, settings.sync
    if not STYLES[calendar.style].has_steps and chosen(calendar, "step_min"):
        yield (
            f"calendar.step_min = {calendar.step_min} and calendar.style = "
            f'{toml_text(calendar.style)}: only style "steps" has steps: write style = "steps", or '
            "take step_min out"
        )
    given = chosen(sync)
    if sync is not None and sync.url is None and given:
        yield (
            f"sync.{given[0]} = {toml_text(getattr(sync, given[0]))} and no sync.url: `daylatch "
            "sync` does not know where: add url under [sync], or give --url each time"
        )


def _shown(settings: SiteFile) -> Iterator[str]:
    calendar, feed = settings.calendar, settings.feed
    shown = feed.show if feed is not None else []
    more = [what for what in shown if what != "name" and what not in calendar.show]
    if more and "show" in calendar.model_fields_set:
        words = toml_text(more)
        yield (
            f"feed.show = {toml_text(shown)} and calendar.show = {toml_text(calendar.show)}: "
            f"anybody who has the feed's address sees {words}, and readers of your own calendar do "
            f"not: take {words} out of feed.show, or add it to calendar.show"
        )
    shows = (("calendar", calendar.show), ("feed", shown), ("card", settings.card.show))
    for name, show in shows:
        if "notes" in show and not settings.head.notes.strip():
            yield (
                f'{name}.show = {toml_text(show)} and notes = "": there are none to show: write '
                'notes above the first table, or take "notes" out'
            )


_NEED_BIRDS = {
    *(f"{place}.{floor}" for place in ("house", "run") for floor in ("floor_m2", "floor_ft2")),
    *(f"house.{key}" for key in ("roost_m", "roost_ft", "nest_boxes")),
    *(f"house.{key}" for key in ("feed_inside", "water_inside")),
    *(f"house.{key}" for key in ("littered_m2", "littered_ft2")),
}
"""What is compared with a norm for a number of birds; the rest is judged without."""


def _birds(settings: SiteFile) -> Iterator[str]:
    flock, house, run = settings.flock, settings.house, settings.run
    places = [
        f"{name}.{key} = {toml_text(getattr(table, key))}"
        for name, table in (("house", house), ("run", run))
        for key in chosen(table)
        if table is not None
    ]
    for_birds = [place for place in places if place.split(" = ")[0] in _NEED_BIRDS]
    birds = flock.birds if flock is not None else None
    if birds is not None and not places:
        yield (
            f"flock.birds = {birds} and no key of [house] or [run]: `daylatch fit` has nothing to "
            "compare with a norm: say how large they are"
        )
    if birds is None and for_birds:
        yield (
            f"{for_birds[0]} and no flock.birds: `daylatch fit` does not know for how many birds "
            "that is: add birds under [flock]"
        )
    if run is not None and run.joined and run.area_m2 is None:
        yield (
            "run.joined = true and no run.floor_m2: the run counts as space for birds that are "
            "awake, and how much is not known: add floor_m2 or floor_ft2 under [run]"
        )
    box = None if house is None else house.given("nest_box")
    if house is not None and house.nest_boxes == 0 and box is not None:
        sides, unit = box
        yield (
            f"house.nest_boxes = 0 and house.nest_box_{unit} = {toml_text(sides)}: there "
            f"is no box of that size: say how many there are, or take nest_box_{unit} out"
        )


def _norms(site: Site) -> Iterator[str]:
    settings, norms = site.settings, site.settings.norms
    if norms is None:
        return
    # For this table only: the norms take a while to read.
    from daylatch.site.norms import MEASURED  # noqa: PLC0415

    # Those that a new file has for its country are nobody's choice yet.
    usual, _ = norms_of(country_of(site.zone))
    size = settings.flock.size if settings.flock is not None else None
    for requirement in chosen(norms, *MEASURED):
        norm = norms.norm(requirement)
        given = f'norms.{requirement} = "{norm.name}"'
        name, keys = MEASURED[requirement]
        if not chosen(getattr(settings, name), *keys):
            if usual.get(requirement) == norm.name:
                continue
            yield (
                f"{given} and no {name}.{keys[0]}: there is nothing to compare with the norm: add "
                f"{' or '.join(keys)} under [{name}], or take the norm out"
            )
        elif norm.base_figures(size) is None:
            found = "no flock.size" if size is None else f'flock.size = "{size}"'
            yield (
                f"{given} and {found}: the norm goes by size and has no figure for that: give one "
                f"of {', '.join(norm.by_size)}, or choose another norm"
            )


def _laying(settings: SiteFile, today: dt.date) -> Iterator[str]:
    laying, house = settings.laying, settings.house
    if laying is None:
        return
    if laying.lamp == "none":
        for key in chosen(laying, "lamp_from", "lamp_until", "weekly_step_min", "least_burn_min"):
            yield (
                f"laying.{key} = {toml_text(getattr(laying, key))} and laying.lamp = "
                f'"none": no lamp burns: write lamp = "morning", or take {key} out'
            )
        if laying.timer is not None:
            yield (
                'laying.timer and laying.lamp = "none": no lamp burns: write lamp = "morning", '
                "or take [laying.timer] out"
            )
        return
    lamp = f'laying.lamp = "{laying.lamp}"'
    if laying.lamp_until is not None and laying.lamp_until < today:
        yield (
            f"{lamp} and laying.lamp_until = {laying.lamp_until}: that is over, so no lamp burns "
            'any more: give a new date, or write lamp = "none"'
        )
        return
    for key in ("feed_inside", "water_inside"):
        if house is not None and getattr(house, key) is False:
            yield (
                f"{lamp} and house.{key} = false: the lamp wakes the birds while the door is "
                f"shut: put it inside and write {key} = true, or do without the lamp"
            )
