"""The present, as commands see it."""

from __future__ import annotations

import datetime as dt
import os
import re
from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import get_zone, zone_rules_date, zone_rules_version
from daylatch.commands.instants import FIRST_YEAR, LAST_YEAR
from daylatch.console import say
from daylatch.errors import PlanError, Problem, UsageError

if TYPE_CHECKING:
    from daylatch.site.tables import Site

_OLD_RULES = dt.timedelta(days=365)


def now_utc() -> np.datetime64:
    """Return this instant [datetime64[s], UTC].

    Raises
    ------
    PlanError
        If the clock shows a time for which no plan can be made.
    """
    return _instant(_checked_clock())


def any_now_utc() -> np.datetime64:
    """Return this instant [datetime64[s], UTC] as the clock has it, however wrong that may be."""
    return _instant(_clock())


def date_now(site: Site) -> dt.date:
    """Return the civil date at a site at this instant; raises as `now_utc`."""
    return get_zone(site.zone).date_at(now_utc())


def refuse_early_clock() -> None:
    """Refuse to publish what is due by a clock that must be wrong.

    Raises
    ------
    PlanError
        If it shows a time before the zone rules were made.
    """
    now = now_utc()
    if is_before_rules(now):
        raise PlanError(f"{early_clock_words(now)}, so nothing is published: set it")


def early_clock_words(now_utc: np.datetime64) -> str:
    """Return what is said of a clock that shows a time before the zone rules were made."""
    return (
        f"the clock of this computer shows {now_utc} UTC, before the time-zone rules in use were "
        f"made (about {zone_rules_date()})"
    )


def is_before_rules(instant_utc: np.datetime64) -> bool:
    """Return whether an instant lies before the zone rules were made, and so in no present."""
    return bool(instant_utc < np.datetime64(zone_rules_date()))


def stamp_utc() -> dt.datetime:
    """Return when new calendar entries are made: SOURCE_DATE_EPOCH if that is set, else now.

    Raises
    ------
    UsageError
        If it is set to something that is no time.
    PlanError
        As `now_utc`.
    """
    given = os.environ.get("SOURCE_DATE_EPOCH")
    if given is None:
        return _checked_clock()
    try:
        if not re.fullmatch("-?[0-9]+", given):
            raise ValueError
        stamp = dt.datetime.fromtimestamp(int(given), dt.UTC)
        if not FIRST_YEAR <= stamp.year <= LAST_YEAR:
            raise ValueError
    except (ValueError, OverflowError, OSError) as error:
        raise UsageError(
            f'SOURCE_DATE_EPOCH is "{given}": set it to whole seconds since 1970, in the years '
            f"{FIRST_YEAR} to {LAST_YEAR}, or unset it"
        ) from error
    return stamp


def marked_date_at(site: Site) -> dt.date:
    """Return the date that counts as today where it is marked; SOURCE_DATE_EPOCH can set it."""
    return get_zone(site.zone).date_at(_instant(stamp_utc()))


def _clock() -> dt.datetime:
    return dt.datetime.now(dt.UTC).replace(microsecond=0)


def _checked_clock() -> dt.datetime:
    now = _clock()
    if not FIRST_YEAR <= now.year <= LAST_YEAR:
        raise PlanError(
            f"the clock of this computer shows {now.date()}, so today's date is not known: set it"
        )
    return now


def _instant(moment: dt.datetime) -> np.datetime64:
    return np.datetime64(moment.replace(tzinfo=None), "s")


def warn(text: str) -> None:
    """Print a warning to standard error."""
    say(f"warning: {text}")


def warn_about(site: Site) -> None:
    """Print a site's likely slips, and whether the zone rules are old or the clock is wrong."""
    for problem in site.warnings:
        warn(problem.sentence(site.file_name))
    today, made = dt.datetime.now(dt.UTC).date(), zone_rules_date()
    if today < made:
        warn(
            f"the clock of this computer shows {today}, but the time-zone rules in use were made "
            f"later, about {made}: the clock must be wrong, so set it"
        )
    elif today - made > _OLD_RULES:
        warn(
            f"the time-zone rules ({zone_rules_version()}, from about {made}) are "
            "over twelve months old: update the package pytz, or a clock change decreed since "
            "then will be missed"
        )


def warn_about_seconds(site: Site, first: dt.date, last: dt.date) -> None:
    """Print whether the wall clock of these dates is known to the minute only."""
    # Before that nothing is planned.
    first = max(first, dt.date(FIRST_YEAR, 1, 1))
    until = get_zone(site.zone).last_with_seconds(first, last)
    if until is not None:
        warn(
            f"until {until} the clocks of {site.zone} stood some seconds beside whole minutes, "
            "which the time-zone rules in use round off: up to then, times of the wall clock are "
            "up to a minute off"
        )


def warn_about_sizes(site: Site) -> None:
    """Print which sizes of a site's house are likely in another unit, where its file has them."""
    # For two commands only.
    from daylatch.site.messages import key_name  # noqa: PLC0415
    from daylatch.site.reading.site_file import line_of_key  # noqa: PLC0415
    from daylatch.site.told.sizes import doubtful_sizes  # noqa: PLC0415

    for doubt in doubtful_sizes(site.settings):
        line = line_of_key(site, doubt.path)
        problem = Problem(key_name(doubt.path), doubt.found, doubt.words, line)
        warn(problem.sentence(site.file_name))
