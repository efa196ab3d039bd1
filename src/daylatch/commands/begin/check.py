"""``daylatch check``: what was understood of a site file, and what in it contradicts."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from daylatch.clock import zone_at
from daylatch.commands.dates import DEFAULT_DAYS
from daylatch.commands.due import due_of
from daylatch.commands.happened.flock_light import going_in
from daylatch.commands.identity import warn_about_twins
from daylatch.commands.now import date_now, warn, warn_about, warn_about_sizes
from daylatch.commands.place.sentences import place_sentences, warn_of_place
from daylatch.console import printable
from daylatch.errors import Problem
from daylatch.plan.due_words import due_notes
from daylatch.plan.plan import make_plan
from daylatch.plan.sitter_hours import sitter_hours
from daylatch.plan.summary import describe_place, describe_rules, summarize
from daylatch.site.reading.site_file import line_of_key, load_site
from daylatch.site.reading.slips import AT_SEA, is_at_sea
from daylatch.site.tables import ZoneSource
from daylatch.site.told.contradictions import contradictions
from daylatch.site.told.words import describe_site
from daylatch.wording import broken, labelled

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.site.tables import Site

_LABEL = 12


def _warn_about_sea(site: Site) -> None:
    """Print that a place lies at sea though the file gives it a zone: a sign may be lost."""
    if site.zone_source is not ZoneSource.FILE:
        return
    if is_at_sea(zone_at(site.latitude_deg, site.longitude_deg)):
        found = f"{site.latitude_deg:g}, {site.longitude_deg:g}"
        line = line_of_key(site, ("place", "latitude"))
        warn(Problem("place.latitude", found, AT_SEA, line).sentence(site.file_name))


def run(path: Path) -> None:
    """Print what was understood, what contradicts, and how the next year's plan comes out."""
    site = load_site(path)
    print(f"{printable(site.file_name)} was understood:")
    lines = describe_site(site, describe_place(site), describe_rules(site))
    print("\n".join(labelled(lines, _LABEL)))
    warn_about(site)
    _warn_about_sea(site)
    warn_about_twins(site, path)
    warn_about_sizes(site)
    first = date_now(site)
    found = list(contradictions(site, first))
    if found:
        print("\nWhat does not go together:")
        for sentence in found:
            print("\n".join(broken(sentence, "- ", "  ")))
    plan = make_plan(site, first, first + dt.timedelta(days=DEFAULT_DAYS - 1))
    due = due_of(plan)
    print(f"\nA plan from {plan.dates[0]} to {plan.dates[-1]} can be made:")
    before = [("Due times", note) for note in due_notes(due)]
    sentence = going_in(site, first)
    before += [("Going in", sentence)] * bool(sentence)
    before += place_sentences(due)
    warn_of_place(due)
    before += [("Sitter's hours", trouble) for trouble in sitter_hours(plan)]
    print("\n".join(summarize(due, before)))
