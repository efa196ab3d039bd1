"""``daylatch check``: what was understood of a site file, and what in it contradicts."""

from __future__ import annotations

import datetime as dt
import textwrap
from typing import TYPE_CHECKING

from daylatch.commands.dates import DEFAULT_DAYS
from daylatch.commands.due import due_of
from daylatch.commands.now import date_now, warn_about, warn_about_sizes
from daylatch.console import printable
from daylatch.plan.due_words import due_notes
from daylatch.plan.plan import make_plan
from daylatch.plan.summary import describe_place, describe_rules, summarize
from daylatch.site.identity import refuse_same_id
from daylatch.site.reading import load_site
from daylatch.site.told.contradictions import contradictions
from daylatch.site.told.words import describe_site
from daylatch.wording import WIDTH, labelled

if TYPE_CHECKING:
    from pathlib import Path

_LABEL = 12


def run(path: Path) -> None:
    """Print what was understood, what contradicts, and how the next year's plan comes out."""
    site = load_site(path)
    refuse_same_id(site, path)
    print(f"{printable(site.file_name)} was understood:")
    lines = describe_site(site, describe_place(site), describe_rules(site))
    print("\n".join(labelled(lines, _LABEL)))
    warn_about(site)
    warn_about_sizes(site)
    first = date_now(site)
    found = list(contradictions(site, first))
    if found:
        print("\nWhat does not go together:")
        for sentence in found:
            print(textwrap.fill(sentence, WIDTH, initial_indent="- ", subsequent_indent="  "))
    plan = make_plan(site, first, first + dt.timedelta(days=DEFAULT_DAYS - 1))
    due = due_of(plan)
    print(f"\nA plan from {plan.dates[0]} to {plan.dates[-1]} can be made:")
    print("\n".join(summarize(due, [("Due times", note) for note in due_notes(due)])))
