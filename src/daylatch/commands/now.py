"""The present, as commands see it."""

from __future__ import annotations

import datetime as dt
import os
from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import get_zone, zone_rules_date, zone_rules_version
from daylatch.console import say
from daylatch.errors import Problem, UsageError

if TYPE_CHECKING:
    from daylatch.site.tables import Site

_OLD_RULES = dt.timedelta(days=365)


def now_utc() -> np.datetime64:
    """Return this instant [datetime64[s], UTC]."""
    return np.datetime64(dt.datetime.now(dt.UTC).replace(tzinfo=None), "s")


def date_at(site: Site, instant_utc: np.datetime64) -> dt.date:
    """Return the civil date at a site at an instant."""
    return get_zone(site.zone).date_at(instant_utc)


def stamp_utc() -> dt.datetime:
    """Return when new calendar entries are made: SOURCE_DATE_EPOCH if that is set, else now.

    Raises
    ------
    UsageError
        If it is set to something that is no time.
    """
    given = os.environ.get("SOURCE_DATE_EPOCH")
    if given is None:
        return dt.datetime.now(dt.UTC).replace(microsecond=0)
    try:
        return dt.datetime.fromtimestamp(int(given), dt.UTC)
    except (ValueError, OverflowError, OSError) as error:
        raise UsageError(
            f'SOURCE_DATE_EPOCH is "{given}": set it to whole seconds since 1970, or unset it'
        ) from error


def marked_date_at(site: Site) -> dt.date:
    """Return the date that counts as today where it is marked; SOURCE_DATE_EPOCH can set it."""
    return date_at(site, np.datetime64(stamp_utc().replace(tzinfo=None), "s"))


def warn(text: str) -> None:
    """Print a warning to standard error."""
    say(f"warning: {text}")


def warn_about(site: Site) -> None:
    """Print a site's likely slips, and whether the zone rules are old."""
    for problem in site.warnings:
        warn(problem.sentence(site.file_name))
    if dt.datetime.now(dt.UTC).date() - zone_rules_date() > _OLD_RULES:
        warn(
            f"the time-zone rules ({zone_rules_version()}, from about {zone_rules_date()}) are "
            "over twelve months old: update the package pytz, or a clock change decreed since "
            "then will be missed"
        )


def warn_about_sizes(site: Site) -> None:
    """Print which sizes of a site's house are likely in another unit, where its file has them."""
    # For two commands only.
    from daylatch.site.messages import key_name  # noqa: PLC0415
    from daylatch.site.reading import line_of_key  # noqa: PLC0415
    from daylatch.site.told.sizes import doubtful_sizes  # noqa: PLC0415

    for doubt in doubtful_sizes(site.settings):
        line = line_of_key(site, doubt.path)
        problem = Problem(key_name(doubt.path), doubt.found, doubt.words, line)
        warn(problem.sentence(site.file_name))
