"""How a house fits as text: which case holds when, then one requirement after the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.birds.fit.fit import LOCAL_LAW
from daylatch.birds.fit.stays import Case
from daylatch.birds.fit.verdicts import Verdict
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.due_words import due_notes
from daylatch.plan.summary import describe_place
from daylatch.site.values.measures import GIVEN_FIGURES, UNITS
from daylatch.wording import (
    WIDTH,
    broken,
    date_ranges,
    days_text,
    duration_of,
    duration_text,
    labelled,
    listed,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.fit.fit import Fit
    from daylatch.birds.fit.line import Line, Need
    from daylatch.birds.fit.stays import Stays
    from daylatch.site.values.measures import Measures

FIRST_LINE = "daylatch house fit"
wrote = first_line_is(FIRST_LINE)
_LABEL = 16
_VERDICT = 14
_COLUMNS = 3 + _VERDICT + _LABEL
_MOST_NEEDS = 6
_NEVER_AWAKE = "To be awake inside"

NOTHING_KNOWN = (
    "The site file says nothing of the birds or where they live, so nothing is checked. Add what "
    "you know of it, and measure rather than guess. For instance:"
)
HOW_TO_READ = (
    "Each line below says what your house has; under it stands what the norm (a published figure "
    "to compare with) asks for, and where that comes from. Tight: enough, but only just, or less "
    "than the better figure."
)
EXAMPLE = """\
[flock]
birds = 6
size = "medium"        # bantam, light, medium or heavy

[house]
floor_m2 = 1.8         # or floor_ft2
roost_m = 1.8
nest_boxes = 2
nest_box_cm = [32, 32, 32]
feed_inside = true
water_inside = true
littered_share = 1     # which share of the floor: 1 all of it, 0 none

[run]
floor_m2 = 6
joined = true          # can the birds reach it while the door is shut?
covered = false
"""
"""What a site file may say of an invented flock and its house."""


def render(fit: Fit) -> bytes:
    """Return the cases with their dates, the requirements and the caution."""
    plan = fit.plan
    head = [
        FIRST_LINE,
        plan.site.name,
        f"{describe_place(plan.site)}, {plan.dates[0]} to {plan.dates[-1]}; time-zone rules "
        f"{zone_rules_version()}",
        *describe_house(fit),
        *due_notes(fit.due),
    ]
    lines = [*wrapped(head), "", *labelled(describe_stays(fit.stays), _LABEL)]
    if fit.is_blank:
        lines += ["", *wrapped([NOTHING_KNOWN]), ""]
        lines += [f"  {line}" for line in EXAMPLE.splitlines()]
    else:
        lines += ["", *labelled(in_short(fit), _LABEL), "", *wrapped([HOW_TO_READ])]
        for case in Case:
            lines += ["", *_section(fit, case)]
    lines += ["", *wrapped([LOCAL_LAW, CAUTION])]
    return text_file.lay_out(lines)


def describe_house(fit: Fit) -> Iterator[str]:
    """Yield the birds and their floors as the file gives them, on one line; none if it does not."""
    words = []
    if fit.flock.birds:
        words.append(f"{fit.flock.birds} {fit.flock.size or ''} birds".replace("  ", " "))
    for name, floor in (("house", fit.house), ("run", fit.run)):
        if floor.area_m2 is not None:
            unit = "m2" if floor.floor_ft2 is None else "ft2"
            words.append(f"{name} {fit.measures.amount((floor.area_m2,), unit, GIVEN_FIGURES)}")
    if words:
        yield "; ".join(words)


def describe_stays(stays: Stays) -> Iterator[tuple[str, str]]:
    """Yield which case holds on which dates, as labels and texts."""
    limit = f"{stays.awake_h:g} h"
    if len(stays.asleep):
        yield "Asleep only", f"{nights_text(len(stays.asleep))}: {date_ranges(stays.asleep)}"
    if len(stays.awake):
        lamp = ", or a lamp on," if len(stays.lamp) else ""
        yield (
            "Awake inside",
            f"{nights_text(len(stays.awake))} with over {limit} of light{lamp} behind a shut door: "
            f"{date_ranges(stays.awake)}",
        )
    elif stays.most_awake_h is not None:
        most = duration_of(stays.most_awake_h)
        yield (
            "Awake inside",
            f"no night: at most {most} of light behind a shut door (over {limit} counts)",
        )
    if len(stays.lamp):
        yield (
            "Awake by lamp",
            f"{days_text(len(stays.lamp))} with the lamp on behind a shut door, which wakes birds "
            f"however short it burns: {date_ranges(stays.lamp)}",
        )
    if len(stays.shut):
        yield "Shut all day", f"{days_text(len(stays.shut))}: {date_ranges(stays.shut)}"
    if len(stays.unknown):
        yield "Not known", f"no opening is known after the closing of {date_ranges(stays.unknown)}"
    if len(stays.long):
        yield (
            f"Over {stays.long_night_h:g} h shut",
            f"{nights_text(len(stays.long))}: {date_ranges(stays.long)}",
        )


def nights_text(count: int) -> str:
    """Return ``1 night`` or ``3 nights``."""
    return f"{count} night{'' if count == 1 else 's'}"


def section_title(case: Case, stays: Stays) -> str:
    """Return what a case's requirements stand under: when they count."""
    match case:
        case Case.ASLEEP:
            return "To sleep inside, every night"
        case Case.AWAKE:
            dates = np.sort(np.concatenate([stays.awake, stays.shut, stays.unknown]))
            if not len(dates):
                # The end of a lock-in that began before the range.
                dates = stays.lamp
            return f"To be awake inside, {date_ranges(dates)}" if len(dates) else _NEVER_AWAKE
        case Case.ALWAYS:
            return "On any date"


def need_dates(need: Need) -> str:
    """Return which dates a need is of."""
    if not need.shut_days:
        return f"the night from {need.first} ({duration_text(need.awake_min)} of light)"
    if need.shut_days == 1:
        return f"{need.first} (shut all day)"
    return f"{need.first} to {need.last} ({days_text(need.shut_days)} shut)"


def describe_needs(line: Line, measures: Measures) -> Iterator[str]:
    """Yield what must be inside, for each occasion."""
    for need in line.needs[:_MOST_NEEDS]:
        assert line.norm is not None
        base = UNITS[line.norm.unit].base
        amount = measures.total((need.least, need.most), base)
        yield f"{amount} for all birds, for {need_dates(need)}"
    if len(line.needs) > _MOST_NEEDS:
        yield f"and so on for {len(line.needs) - _MOST_NEEDS} more times shut all day"


def in_short(fit: Fit) -> Iterator[tuple[str, str]]:
    """Yield what does not pass, by verdict, and what goes by a doubtful size."""
    for verdict in (Verdict.FAIL, Verdict.TIGHT, Verdict.NOT_CHECKED):
        titles = [line.title.lower() for line in fit.lines if line.verdict is verdict]
        if titles:
            yield verdict.value.capitalize(), listed(titles)
    doubted = [line.title.lower() for line in fit.lines if line.doubts]
    if doubted:
        yield "Look again", f"{listed(doubted)}: a size may be in another unit"


def _section(fit: Fit, case: Case) -> Iterator[str]:
    lines = [line for line in fit.lines if line.case is case]
    if all(line.verdict is Verdict.DOES_NOT_ARISE for line in lines):
        titles = listed([line.title.lower() for line in lines])
        yield section_title(case, fit.stays)
        yield from wrapped([f"  does not arise on these dates: {titles}"])
        return
    yield from wrapped([section_title(case, fit.stays)])
    for line in lines:
        yield from _line(line, fit.measures)


def _line(line: Line, measures: Measures) -> Iterator[str]:
    details = list(_details(line, measures))
    first = line.found
    # What stands in for a figure, such as what to add to the file, goes where the figure would.
    if not first and line.notes and len(line.notes[0]) <= WIDTH - _COLUMNS:
        first = line.notes[0]
        details.remove(first)
    yield f"  {line.verdict.value:{_VERDICT}} {line.title:{_LABEL}}{first}"
    indent = " " * (3 + _VERDICT)
    for text in details:
        yield from broken(text, indent, indent)


def _details(line: Line, measures: Measures) -> Iterator[str]:
    """Yield what is said below a requirement, a paragraph each."""
    yield from line.doubts
    if line.norm is not None and (line.found or line.needs):
        asks = f" asks for {line.wanted}" if line.wanted else ""
        yield f"Norm {line.norm.name}{asks}: {line.norm.source_text()}."
    yield from describe_needs(line, measures)
    yield from line.notes
