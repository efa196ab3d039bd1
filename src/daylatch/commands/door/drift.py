"""``daylatch drift``: how wrong the door's clock may be, and when it must be set again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from daylatch.commands.dates import parse_date
from daylatch.commands.now import warn
from daylatch.commands.output import hand_over, load
from daylatch.door.drift.drift import make_drift, no_clock_words
from daylatch.errors import UsageError
from daylatch.site.keys.units import split_unit
from daylatch.site.messages import remedy_for, show_value
from daylatch.site.timekeeping import Timekeeping

if TYPE_CHECKING:
    from collections.abc import Mapping

    from daylatch.commands.asked import Asked


def run(asked: Asked, options: Mapping[str, tuple[str, Any]]) -> None:
    """Print how wrong a site's clock may be, or write it to a file.

    Each option comes with the key of the site file that it stands for, and what was typed or None.
    """
    form = asked.form("drift")
    site, first, last = load(asked)
    facts = _facts(site.settings.clock or Timekeeping.model_construct(), options)
    drift = make_drift(site, facts, first, last)
    if drift.is_no_clock and form.name != "text":
        # The text has a place for it.
        warn(no_clock_words(drift))
    hand_over(
        asked,
        form,
        site,
        lambda write, _: write(drift),
        about=f"{drift.first} to {drift.last}",
    )


def _facts(given: Timekeeping, options: Mapping[str, tuple[str, Any]]) -> Timekeeping:
    """Return what is known of a clock, with what was typed instead.

    Raises
    ------
    UsageError
        If an option cannot be taken.
    """
    typed = {key: value for key, value in options.values() if value is not None}
    option_of = {key: option for option, (key, _) in options.items()}
    if "set_on" in typed:
        typed["set_on"] = parse_date(typed["set_on"], option_of["set_on"])
    # A temperature that is typed stands for the file's in whatever unit.
    names = {split_unit(key)[0] for key in typed}
    kept = {
        key: value
        for key, value in given.model_dump(exclude_unset=True).items()
        if split_unit(key)[0] not in names
    }
    try:
        return Timekeeping.model_validate(kept | typed)
    except ValidationError as error:
        detail = error.errors(include_url=False)[0]
        remedy = remedy_for(detail, ())
        if not detail["loc"]:
            raise UsageError(f"with these options, {remedy}") from None
        key = str(detail["loc"][0])
        raise UsageError(f"{option_of[key]} is {show_value(detail['input'])}: {remedy}") from None
