"""What is said of a flock's light, in text, on pages and beside other things."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import HOUR
from daylatch.birds.compare.comparison import open_in_the_dark
from daylatch.diary.roosting.finding import BELIEVED_DEG, NotTold, WhyNot
from daylatch.diary.roosting.half import Doubt, Learned
from daylatch.diary.roosting.lag import HALF_YEAR_DAYS
from daylatch.diary.roosting.light import FEWEST_CHECKS, FEWEST_EVENINGS, FEWEST_OF_EACH
from daylatch.diary.roosting.looks import Half, depression_of
from daylatch.diary.roosting.shares import CONFIDENCE
from daylatch.wording import date_ranges, days_text, duration_text, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.nights.nights import Nights
    from daylatch.diary.roosting.half import Proposal
    from daylatch.diary.roosting.roosting import Ahead, Costs, Roosting
    from daylatch.diary.roosting.shares import Claim

_MOST_SHOWN = 8
_EVENT = {Half.EVENING: "the last bird is in", Half.MORNING: "the first bird wants out"}
_DONE = {Half.EVENING: "all are in", Half.MORNING: "the first bird wants out"}
_EARLIER = {Half.EVENING: "brighter", Half.MORNING: "darker"}
_GO = {Half.EVENING: "go in", Half.MORNING: "want out"}
_LATE_ENOUGH = {
    Half.EVENING: "the head count, when all should be in",
    Half.MORNING: "the door just before it opens",
}
_TABLE = {Half.EVENING: "close", Half.MORNING: "open"}
_WEATHER = {
    Half.EVENING: (
        "Weather is not modelled: birds go in earlier on dark evenings, and those are in the "
        "spread."
    ),
    Half.MORNING: (
        "Weather is not modelled: birds wake later on dark mornings, and those are in the spread."
    ),
}


def days_of(half: Half, count: int) -> str:
    """Return how many evenings or mornings: ``1 evening``."""
    return f"{count} {half.value}" if count == 1 else f"{count} {half.value}s"


def sun_text(light_deg: float, digits: int = 2) -> str:
    """Return where the Sun is: ``4.33° below the horizon``."""
    where = "below" if light_deg >= 0 else "above"
    return f"{abs(light_deg):.{digits}f}° {where} the horizon"


def share_text(share: float) -> str:
    """Return a share: ``95 %``."""
    return f"{100 * share:g} %"


def minutes_text(minutes: float) -> str:
    """Return minutes from a light on, rounded up: ``17 min after``."""
    whole = math.ceil(minutes)
    return f"{abs(whole)} min {'after' if whole >= 0 else 'before'}"


def light_sentence(learned: Learned) -> str:
    """Return at which light, how sure that is, and by how many days."""
    return (
        f"{_EVENT[learned.half].capitalize()} with the Sun {sun_text(learned.light_deg)}; within "
        f"{learned.error_deg:.2f}° or {learned.error_min:.1f} min of that at "
        f"{share_text(CONFIDENCE)} confidence, by {days_of(learned.half, learned.days)}."
    )


def claim_sentence(half: Half, claim: Claim) -> str:
    """Return what is claimed of a share."""
    how = ", by the shape of the spread" if claim.by_shape else ""
    sure = f"{100 * claim.confidence:.1f} % confidence"
    return f"by {minutes_text(claim.value)} that light ({sure}{how})"


def spread_sentence(learned: Learned) -> str:
    """Return how far days differ, and what is in that."""
    half, spread = learned.half.value, learned.spread_min
    return f"Two {half}s of three lie within {spread:.1f} min of it. {_WEATHER[learned.half]}"


def refusal_sentence(learned: Learned) -> str:
    """Return which shares the days cannot carry, and how many they would take; empty for none."""
    if not learned.refused:
        return ""
    days = days_of(learned.half, learned.days)
    open_ended = int(np.isinf(learned.latest_min).sum())
    why = f" ({open_ended} of them without a look that found it over)" if open_ended else ""
    takes = [f"{share_text(one.share)} takes {one.needs}" for one in learned.refused]
    return f"more cannot be said by {days}{why}: {listed(takes)}"


def no_proposal_sentence(learned: Learned) -> str:
    """Return why nothing is proposed; empty if something is."""
    if learned.proposal is not None or Doubt.ONE_TIME in learned.doubts:
        return ""
    if any(one.share == learned.chosen for one in learned.refused):
        return (
            f"None: {share_text(learned.chosen)} is more than these {learned.half.value}s can "
            "promise. Go on noting, or choose a smaller share with --share."
        )
    return (
        f"None: on too many of these {learned.half.value}s nobody looked late enough to find that "
        f"{_DONE[learned.half]}. Look at {_LATE_ENOUGH[learned.half]}."
    )


def outlier_texts(learned: Learned) -> list[str]:
    """Return each outlier with its date and by how much it is off."""
    looks, found = learned.looks, []
    for row in np.flatnonzero(learned.outliers).tolist():
        minutes = learned.minutes[row]
        if math.isnan(minutes):
            is_early = not np.isnat(looks.until_utc[row]) and learned.latest_min[row] < 0
            found.append(f"{looks.dates[row]} ({'already' if is_early else 'not yet'}, far off)")
        else:
            late = duration_text(round(abs(minutes)))
            found.append(f"{looks.dates[row]} ({late} {'later' if minutes > 0 else 'earlier'})")
    return found


def outlier_sentence(learned: Learned) -> str:
    """Return which days are far from the others; empty if none is."""
    found = outlier_texts(learned)
    if not found:
        return ""
    shown = "; ".join(found[:_MOST_SHOWN])
    more = f"; and {len(found) - _MOST_SHOWN} more (--to csv)" if len(found) > _MOST_SHOWN else ""
    return (
        f"{shown}{more}. They count in the shares, since that is what shares are about: undo or "
        "correct a slip (`daylatch diary undo`), and ask again."
    )


def aside_sentences(learned: Learned) -> Iterator[str]:
    """Yield what was left out, and why."""
    looks = learned.looks
    if looks.aside:
        dates = np.unique(
            np.array([one.instant_utc for one in looks.aside]).astype("datetime64[D]")
        )
        entries = "1 entry" if len(looks.aside) == 1 else f"{len(looks.aside)} entries"
        yield f"{entries} in the other half of the day: {date_ranges(dates)} (by UTC)."
    if looks.unsure:
        count = "1 entry tells" if looks.unsure == 1 else f"{looks.unsure} entries tell"
        yield f"{count} too little of when it was."
    if looks.on_shut_days:
        yield (f"{days_of(learned.half, looks.on_shut_days)} on which a span kept the door shut.")
    unlit = looks.dates[np.isnat(learned.light_utc)]
    if len(unlit):
        nights = "1 night" if len(unlit) == 1 else f"{len(unlit)} nights"
        yield f"{nights} without that light, as in white nights: {date_ranges(unlit)}."


def lag_sentence(learned: Learned) -> str:
    """Return what is said of a fixed lag beside the light."""
    lag = learned.lag
    span = f"{lag.low_min} to {lag.high_min} min"
    if not lag.is_told_apart:
        return (
            f"Part of it may be a fixed lag of {span} behind a {_EARLIER[learned.half]} light: "
            f"these {learned.half.value}s do not tell them apart, so none is taken."
        )
    light = depression_of(learned.half, lag.sun_deg)
    return (
        f"Part of it is a fixed lag of {lag.minutes} min ({span}) behind the Sun "
        f"{sun_text(light)}: these {learned.half.value}s tell them apart."
    )


def season_sentence(learned: Learned) -> str:
    """Return how little it says of another season."""
    season = learned.other_season
    if season is None:
        return f"That light does not come on any of the coming {HALF_YEAR_DAYS} days."
    early = round(season.earlier_min + learned.error_min)
    late = round(season.later_min + learned.error_min)
    text = (
        f"One season says little of another: on {season.date}, the worst day of the coming "
        f"half-year, they may {_GO[learned.half]} up to {early} min earlier or {late} min later "
        "than this light says. Go on noting."
    )
    if season.without:
        text += f" On {days_text(season.without)} of it that light does not come at all."
    return text


def doubt_sentences(learned: Learned) -> Iterator[str]:
    """Yield why it may be wrong, and what to do."""
    words = {
        Doubt.ONE_TIME: (
            f"All these {learned.half.value}s have one time of the clock, as no birds keep: it "
            "looks like a habit of who wrote them. So nothing is proposed."
        ),
        Doubt.ALIKE: (
            f"These {learned.half.value}s are all alike to a minute, as birds never are: were they "
            "written down from the plan?"
        ),
        Doubt.BRIGHT: (
            "The Sun is still up then. If the birds go by themselves, look at the log's clock: one "
            "in UTC or another zone is given as clock in [[diary.log]]."
        ),
        Doubt.DARK: (
            "It is dark by then. Look at the log's clock: one in UTC or another zone is given as "
            "clock in [[diary.log]]."
        ),
        Doubt.KINDS_DIFFER: (
            "Moments and counts say different lights; the one told is between them. Which of the "
            "two is noted late?"
        ),
    }
    yield from (words[doubt] for doubt in learned.doubts)


def not_told_sentence(told: NotTold) -> str:
    """Return why no light can be told, and what it takes."""
    half = told.half.value
    takes = (
        f"it takes {FEWEST_EVENINGS} {half}s with the moment, or {FEWEST_CHECKS} counts, "
        f"{FEWEST_OF_EACH} of them before and {FEWEST_OF_EACH} after {_EVENT[told.half]}"
    )
    has = (
        f"there {'is' if told.moments == 1 else 'are'} {days_of(told.half, told.moments)} with the "
        f"moment, and "
        f"{told.yes + told.no} counts ({told.yes} yes, {told.no} no)"
    )
    match told.why:
        case WhyNot.TOO_FEW:
            return f"No light can be told: {has}; {takes}."
        case WhyNot.NO_SUCH_LIGHT:
            return (
                f"No light can be told: most nights do not get as dark as the others. On those "
                f"that do, {has}; {takes}."
            )
        case WhyNot.BACKWARDS:
            return (
                f"No light can be told: {has}, and they do not turn from no to yes as the Sun "
                "moves. Look at the log's clock, and at what its words mean."
            )
        case WhyNot.NOT_BELIEVED:
            return (
                f"No light is told: by this log {_EVENT[told.half]} with the Sun "
                f"{sun_text(told.light_deg, 0)}, and no hen keeps that (believed: from "
                f"{-BELIEVED_DEG[0]:g}° above to {BELIEVED_DEG[1]:g}° below). Is the log's clock "
                "another one? Give it as clock in [[diary.log]], such as UTC."
            )


def proposal_lines(half: Half, proposal: Proposal) -> list[str]:
    """Return the lines for the site file."""
    return [
        f"[{_TABLE[half]}]",
        f"light = {proposal.light_deg:g}",
        f"offset_min = {proposal.offset_min}",
    ]


def split_sentence(learned: Learned) -> str:
    """Return why light and minutes are split so."""
    proposal = learned.proposal
    assert proposal is not None
    return (
        "The light moves with the seasons, as the birds do; the minutes behind it are for those "
        f"that come late and for dark {learned.half.value}s: on {share_text(proposal.share)} of "
        f"{learned.half.value}s {_DONE[learned.half]} by then, at {share_text(CONFIDENCE)} "
        "confidence."
    )


def cost_sentences(costs: Costs) -> Iterator[str]:
    """Yield what a proposal costs or gains in the coming year, against the rules as they are."""
    both = costs.comparison
    if both is None:
        yield f"A plan by it cannot be made: {costs.trouble}"
        return
    nights = (both.first_nights, both.second_nights)
    dark = [float(open_in_the_dark(one).sum() / HOUR) for one in nights]
    yield (
        f"From {both.dates[0]} to {both.dates[-1]}: open in the dark {dark[0]:.0f} h now, "
        f"{dark[1]:.0f} h then; mean night {_mean_night(nights[0])} now, {_mean_night(nights[1])} "
        "then."
    )
    for verb, name in (("opens", "past_guard_open"), ("closes", "past_guard_close")):
        now, then = (getattr(plan.decisions, name) for plan in (both.first, both.second))
        if then.any():
            yield (
                f"PAST THE GUARD: it {verb} in the light in which predators hunt on "
                f"{days_text(int(then.sum()))} (now {int(now.sum())}): "
                f"{date_ranges(both.dates[then])}."
            )
    if not any(
        getattr(both.second.decisions, f"past_guard_{side}").any() for side in ("open", "close")
    ):
        yield "It never passes the guard."


def _mean_night(nights: Nights) -> str:
    known = nights.length[nights.single]
    return duration_text(known.mean().astype("timedelta64[m]")) if len(known) else "none"


def ahead_words(ahead: Ahead) -> str:
    """Return how the birds are before or after the door: ``11 min before the door shuts``."""
    share = Fraction(round(100 * ahead.share), 100)
    often = f"{share.numerator} of {share.denominator} evenings"
    whole = math.floor(ahead.minutes)
    if whole >= 0:
        return f"{whole} min before the door shuts on {often}"
    return f"but the door may shut before the last one: on {often} all are in by {-whole} min after"


def one_sentence(roosting: Roosting) -> str:
    """Return the one sentence for the page, the report and `check`; empty if nothing is learned."""
    evening = roosting.evening
    if not isinstance(evening, Learned):
        return ""
    place = "" if evening.light_deg >= 0 else " above the horizon"
    text = f"Your birds go in at {abs(evening.light_deg):.1f}°{place}"
    if Doubt.ONE_TIME in evening.doubts:
        return f"{text}, if the log is to be believed: `daylatch roosting` says why not."
    if roosting.ahead is None:
        return f"{text}, by {days_of(Half.EVENING, evening.days)}: too few to say more."
    return f"{text}, {ahead_words(roosting.ahead)}."
