"""What is said of a proposal: its lines, why it is split so, its costs, or why there is none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import HOUR
from daylatch.birds.compare.comparison import open_in_the_dark, open_time
from daylatch.diary.roosting.half import LEAST_SHARE
from daylatch.diary.roosting.looks import Half
from daylatch.diary.roosting.shares import CONFIDENCE, LEAST_TOLD, needed
from daylatch.diary.roosting.words import DONE, doubt_sentences, share_text
from daylatch.plan.daily.rules import Rule
from daylatch.wording import date_ranges, days_text, duration_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Times
    from daylatch.birds.compare.comparison import Comparison
    from daylatch.birds.nights.nights import Nights
    from daylatch.diary.roosting.half import Learned, Proposal
    from daylatch.diary.roosting.roosting import Costs

TABLES = {Half.EVENING: "close", Half.MORNING: "open"}
"""The table of the site file that a half of the day belongs to."""
_UNSEEN = {
    Half.EVENING: (
        "nobody looked late enough to find all in: look at the head count, when they should be"
    ),
    Half.MORNING: (
        "nobody saw one waiting: look just before the door opens, and note `first out` once it has"
    ),
}


def proposal_lines(half: Half, proposal: Proposal) -> list[str]:
    """Return the lines for the site file."""
    return [
        f"[{TABLES[half]}]",
        f"light = {proposal.light_deg:g}",
        f"offset_min = {proposal.offset_min}",
    ]


def split_sentence(learned: Learned) -> str:
    """Return why light and minutes are split so."""
    proposal = learned.proposal
    assert proposal is not None
    half = learned.half.value
    text = (
        f"The light moves with the seasons, as the birds do; the minutes behind it are for those "
        f"that come late and for dark {half}s: on {share_text(proposal.share)} of {half}s "
        f"{DONE[learned.half]} by then, at {share_text(CONFIDENCE)} confidence."
    )
    if learned.half is Half.MORNING:
        text += " On most mornings they wait a while; to open sooner, take a smaller --share."
    if not learned.is_of_moments:
        text += (
            " By looks that is when somebody looked: it may have been long before. Look some "
            "minutes after the light, too, or note the moment, before you move the door."
        )
    return text


def cost_sentences(costs: Costs) -> Iterator[str]:
    """Yield what a proposal costs or gains in the coming year, against the rules as they are."""
    both = costs.comparison
    if both is None:
        yield f"A plan by it cannot be made: {costs.trouble}"
        return
    plans, nights = (both.first, both.second), (both.first_nights, both.second_nights)
    dark = [float(open_in_the_dark(one).sum() / HOUR) for one in nights]
    hours = [float(open_time(plan).sum() / HOUR) for plan in plans]
    yield (
        f"From {both.dates[0]} to {both.dates[-1]}: open {hours[0]:.0f} h now, {hours[1]:.0f} h "
        f"then; in the dark {dark[0]:.0f} h now, {dark[1]:.0f} h then; mean night "
        f"{_mean_night(nights[0])} now, {_mean_night(nights[1])} then."
    )
    lost = newly_shut(costs)
    if len(lost):
        yield (
            f"SHUT ALL DAY on {days_text(len(lost))} on which it opens now, since that light does "
            f"not come: {date_ranges(lost)}. Write dark_fallback under [open] or [close] first."
        )
    yield from _limits(both)
    past = False
    for verb, name in (("opens", "past_guard_open"), ("closes", "past_guard_close")):
        now, then = (getattr(plan.decisions, name) for plan in plans)
        past |= bool(then.any())
        if then.any():
            yield (
                f"PAST THE GUARD: it {verb} in the light in which predators hunt on "
                f"{days_text(int(then.sum()))} (now {int(now.sum())}): "
                f"{date_ranges(both.dates[then])}."
            )
    if not past:
        yield "It never passes the guard."


def newly_shut(costs: Costs) -> Times:
    """Return the dates on which the door would stay shut all day, and does not now."""
    both = costs.comparison
    if both is None:
        return np.array([], "datetime64[D]")
    dates: Times = both.dates[both.first.is_open & ~both.second.is_open]
    return dates


def _limits(both: Comparison) -> Iterator[str]:
    """Yield on which days a limit keeps the door from what is proposed, of each that is moved."""
    before, after = (plan.site.settings for plan in (both.first, both.second))
    decisions = both.second.decisions
    for is_moved, moves, rule, words in (
        (before.close != after.close, decisions.close, Rule.NOT_AFTER, "not_after shuts it sooner"),
        (before.open != after.open, decisions.open, Rule.NOT_BEFORE, "not_before opens it later"),
    ):
        limited = moves.moved[rule] != np.timedelta64(0, "m")
        if is_moved and limited.any():
            yield (
                f"Your limit {words} on {days_text(int(limited.sum()))}: "
                f"{date_ranges(both.dates[limited])}."
            )


def _mean_night(nights: Nights) -> str:
    known = nights.length[nights.single]
    return duration_text(known.mean().astype("timedelta64[m]")) if len(known) else "none"


def no_proposal_sentence(learned: Learned) -> str:
    """Return why nothing is proposed; empty if something is."""
    if learned.proposal is not None:
        return ""
    if learned.is_doubted:
        return " ".join(doubt_sentences(learned))
    half = learned.half.value
    unseen = int(np.isinf(learned.latest_min).sum())
    if any(one.share == learned.chosen for one in learned.refused):
        smaller = ", or choose a smaller share with --share" * (learned.largest >= LEAST_TOLD)
        return (
            f"None: {share_text(learned.chosen)} is more than these {half}s can promise. Go on "
            f"noting{smaller}."
        )
    if learned.days >= needed(LEAST_SHARE):
        return f"None: on {unseen} of these {half}s {_UNSEEN[learned.half]}."
    all_the_same = f" (--share {100 * learned.largest:.0f} does all the same)"
    return (
        f"None yet: go on noting. {needed(LEAST_SHARE)} {half}s carry {share_text(LEAST_SHARE)}, "
        f"and fewer are too little to move a door by"
        f"{all_the_same * (learned.largest >= LEAST_TOLD)}."
    )
