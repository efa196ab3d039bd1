"""``daylatch settings``: when to change a plain timer, and to what."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.commands.now import date_at, now_utc, stamp_utc, warn_about
from daylatch.commands.output import choose_form, deliver
from daylatch.commands.people.calendars import refuse_update, warn_about_calendar, warn_about_update
from daylatch.door.timer.timer_list import make_timer_list
from daylatch.errors import UsageError
from daylatch.files.occasion import Occasion
from daylatch.plan.plan import make_plan
from daylatch.site.reading import load_site
from daylatch.site.timer import MOST_CLOCK_MARGIN_MIN, MOST_TOLERANCE_MIN, STEPS_MIN, Timer, read_on

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.commands.dates import Range

FORMS = {
    "text": "daylatch.door.timer.text",
    "csv": "daylatch.door.timer.csv",
    "ics": "daylatch.calendars.timer",
    "html": "daylatch.paper.pages.timer_html",
    "json": "daylatch.door.timer.json",
}
"""The module of each form, imported when it is used."""
FORMS_WITH_ID = ("ics", "json")
"""The forms that tell which house they are for."""
_MOST_CHANGES = 1000


class Trial(NamedTuple):
    """What the command line tries out instead of what the site file says; None leaves it."""

    tolerance_min: int | None
    changes: int | None
    on: str | None
    together: bool | None
    step_min: int | None
    clock_margin_min: int | None


def run(
    path: Path,
    wanted: Range,
    trial: Trial,
    *,
    to: str | None,
    output: Path | None,
    force: bool,
    update: bool,
) -> None:
    """Print a timer's list, or write it to a file."""
    if to is None and output is not None and output.suffix.lower() == ".html":
        to = "html"
    form = choose_form(to, output, FORMS)
    refuse_update(update, form, output)
    changes = _changes(trial)
    site = load_site(path)
    warn_about(site)
    first, last = wanted.dates(date_at(site, now_utc()))
    if form == "ics":
        from daylatch.site.identity import refuse_same_id  # noqa: PLC0415 - for calendars only

        refuse_same_id(site, path)
    if form == "html":
        from daylatch.commands.extras import require_pictures  # noqa: PLC0415 - for pages only

        require_pictures()
    timer = (site.settings.timer or Timer.model_construct()).model_copy(update=changes)

    def content(previous: bytes | None) -> bytes:
        found = make_timer_list(make_plan(site, first, last), timer)
        made: bytes = importlib.import_module(FORMS[form]).render(
            found, Occasion(stamp_utc(), previous, update=update)
        )
        if form == "ics":
            warn_about_update(update, previous)
            warn_about_calendar(made)
        return made

    deliver(
        content,
        importlib.import_module(FORMS[form]).wrote,
        output,
        site_paths=[path],
        force=force,
        about=f"{first} to {last}",
        site_id=site.id if form in FORMS_WITH_ID else None,
    )


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
        if not 1 <= trial.changes <= _MOST_CHANGES:
            raise UsageError(
                f"--changes is {trial.changes}: write a number from 1 to {_MOST_CHANGES}; the "
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
