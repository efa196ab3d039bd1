"""``daylatch settings``: when to change a plain timer, and to what."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.commands.output import hand_over, load
from daylatch.door.timer.list_of_years import list_of_years
from daylatch.door.timer.words import WORKS_LINE
from daylatch.door.works.years import whole_years
from daylatch.errors import Problem, SiteError, UsageError
from daylatch.plan.plan import make_plan
from daylatch.site.messages import show_value, toml_text
from daylatch.site.reading.site_file import line_of_key
from daylatch.site.timer import (
    MOST_CHANGES,
    MOST_CLOCK_MARGIN_MIN,
    MOST_TOLERANCE_MIN,
    STEPS_MIN,
    Timer,
    read_on,
)

if TYPE_CHECKING:
    from daylatch.birds.lamp_list.lamp_list import LampList
    from daylatch.commands.asked import Asked
    from daylatch.door.timer.timer_list import TimerList
    from daylatch.site.tables import Site


class Trial(NamedTuple):
    """What the command line tries out instead of what the site file says; None leaves it."""

    tolerance_min: int | None
    changes: int | None
    on: str | None
    together: bool | None
    step_min: int | None
    clock_margin_min: int | None


def run(asked: Asked, trial: Trial, *, lamp: bool = False) -> None:
    """Print a timer's list, or write it to a file."""
    if lamp:
        _run_for_lamp(asked, trial)
        return
    form = asked.form("settings")
    changes = _changes(trial)
    site, first, last = load(asked)
    own = site.settings.timer or Timer.model_construct()
    timer = own.model_copy(update=changes)
    tried_out = _tried_out(own, timer, site.settings.door.works)

    def make() -> TimerList:
        plan = make_plan(site, first, last)
        return list_of_years(plan, timer, whole_years(plan), tried_out)

    hand_over(
        asked,
        form,
        site,
        lambda write, occasion: write(make(), occasion()),
        about=f"{first} to {last}",
    )


def _run_for_lamp(asked: Asked, trial: Trial) -> None:
    form = asked.form("settings --lamp")
    changes = _changes(trial)
    site, first, last = load(asked)
    laying = site.settings.laying
    if laying is None or laying.lamp == "none":
        raise _no_list(site, 'no lamp is asked for: write lamp = "morning" under [laying]')
    own = laying.timer or Timer.model_construct()
    timer = own.model_copy(update=changes)
    tried_out = [
        line.replace("[timer]", "[laying.timer]") for line in _tried_out(own, timer, "timer")
    ]
    if laying.timer is None:
        tried_out.append("a table [laying.timer]")

    def make() -> LampList:
        from daylatch.birds.lamp_list.lamp_list import (  # noqa: PLC0415 - for lamps only
            NoBurnError,
            make_lamp_list,
        )

        try:
            return make_lamp_list(make_plan(site, first, last), timer, tried_out)
        except NoBurnError as error:
            raise _no_list(
                site,
                f"{error}, so there is no list: choose other dates, or give another lamp_from or "
                "wanted_h",
            ) from error

    hand_over(
        asked,
        form,
        site,
        lambda write, occasion: write(make(), occasion()),
        about=f"{first} to {last}",
    )


def _no_list(site: Site, remedy: str) -> SiteError:
    """Return why a lamp has no list, with the line of the site file."""
    laying = site.settings.laying
    found = "" if laying is None else show_value(laying.lamp)
    line = line_of_key(site, ("laying", "lamp")) or line_of_key(site, ("laying",))
    return SiteError(site.file_name, [Problem("laying.lamp", found, remedy, line)])


def _tried_out(own: Timer, timer: Timer, works: str) -> list[str]:
    """Return what the site file would have to say for a timer's times to be due."""
    said, wanted = (
        one.model_dump() | {"tolerance_min": one.wanted_tolerance_min} for one in (own, timer)
    )
    lines = []
    for key, value in wanted.items():
        if value == said[key]:
            continue
        if value is None and key not in own.model_fields_set:
            continue
        line = f"no {key}" if value is None else f"{key} = {toml_text(value)}"
        lines.append(f"{line} under [timer]")
    if works != "timer":
        lines.append(WORKS_LINE)
    return lines


def _changes(trial: Trial) -> dict[str, Any]:
    """Return what is tried out, by the keys of the site file.

    Raises
    ------
    UsageError
        If the timer cannot take it.
    """
    if trial.tolerance_min is not None and trial.changes is not None:
        raise UsageError(
            "give --tolerance, for the fewest changes that keep it, or --changes, for the least "
            "lateness with so many; not both"
        )
    found: dict[str, Any] = {}
    if trial.tolerance_min is not None:
        if not 0 <= trial.tolerance_min <= MOST_TOLERANCE_MIN:
            raise UsageError(
                f"--tolerance is {trial.tolerance_min}: write minutes from 0 to "
                f"{MOST_TOLERANCE_MIN}; the door is never early, so none are below 0"
            )
        found = {"tolerance_min": trial.tolerance_min, "changes": None}
    if trial.changes is not None:
        if not 1 <= trial.changes <= MOST_CHANGES:
            raise UsageError(
                f"--changes is {trial.changes}: write a number from 1 to {MOST_CHANGES}; the "
                "first setting counts"
            )
        found = {"tolerance_min": None, "changes": trial.changes}
    if trial.step_min is not None:
        if trial.step_min not in STEPS_MIN:
            raise UsageError(
                f"--step is {trial.step_min}: write one of {', '.join(map(str, STEPS_MIN))}"
            )
        found["step_min"] = trial.step_min
    if trial.clock_margin_min is not None:
        if not 0 <= trial.clock_margin_min <= MOST_CLOCK_MARGIN_MIN:
            raise UsageError(
                f"--clock-margin is {trial.clock_margin_min}: write how many minutes the timer's "
                f"clock may be wrong, either way, from 0 to {MOST_CLOCK_MARGIN_MIN}"
            )
        found["clock_margin_min"] = trial.clock_margin_min
    if trial.together is not None:
        found["together"] = trial.together
    if trial.on is not None:
        found["on"] = _on(trial.on)
    return found


def _on(text: str) -> str | tuple[str, ...]:
    """Return on which dates the timer may be changed, as given on the command line."""
    words = text.strip().lower().replace("-", " ")
    try:
        return read_on(
            words
            if words in ("any", "month starts")
            else [word.strip() for word in words.split(",")]
        )
    except ValueError:
        raise UsageError(
            f'--on is "{text}": write any, month-starts, or weekdays like saturday,sunday'
        ) from None
