"""What is said of a flock's light, in text, on pages and beside other things."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import get_zone
from daylatch.diary.roosting.doubts import Doubt
from daylatch.diary.roosting.finding import BELIEVED_DEG, NotTold, WhyNot
from daylatch.diary.roosting.half import Learned
from daylatch.diary.roosting.instants import depression_of
from daylatch.diary.roosting.lag import HALF_YEAR_DAYS
from daylatch.diary.roosting.light import FEWEST_CHECKS, FEWEST_EVENINGS, FEWEST_OF_EACH
from daylatch.diary.roosting.looks import Half
from daylatch.diary.roosting.shares import CONFIDENCE
from daylatch.wording import date_ranges, days_text, duration_text, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.roosting.looks import Looks
    from daylatch.diary.roosting.roosting import Ahead, Roosting, UnderRules
    from daylatch.diary.roosting.shares import Claim
    from daylatch.site.tables import Site

_MOST_SHOWN = 8
_MOST_ASIDE = 3
_EVENT = {Half.EVENING: "the last bird is in", Half.MORNING: "the first bird wants out"}
DONE = {Half.EVENING: "all are in", Half.MORNING: "the first bird wants out"}
_EARLIER = {Half.EVENING: "brighter", Half.MORNING: "darker"}
_GO = {Half.EVENING: "go in", Half.MORNING: "want out"}
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


def outlier_texts(learned: Learned, site: Site) -> list[str]:
    """Return each outlier with its date and time, and by how much it is off."""
    looks, zone, found = learned.looks, get_zone(site.zone), []
    for row in np.flatnonzero(learned.outliers).tolist():
        if looks.is_exact[row]:
            minutes = learned.minutes[row]
            late = duration_text(round(abs(minutes)))
            off, at = f"{late} {'later' if minutes > 0 else 'earlier'}", looks.exact_utc[row]
        elif learned.latest_min[row] < 0:
            off, at = "already, long before", looks.until_utc[row]
        else:
            off, at = "not yet, long after", looks.after_utc[row]
        found.append(f"{looks.dates[row]} at {site.face.time_at(zone, at)} ({off})")
    return found


def outlier_sentence(learned: Learned, site: Site) -> str:
    """Return which days are far from the others, and what they do; empty if none is."""
    found = outlier_texts(learned, site)
    if not found:
        return ""
    more = f"; and {len(found) - _MOST_SHOWN} more (--to csv)" if len(found) > _MOST_SHOWN else ""
    text = (
        f"{'; '.join(found[:_MOST_SHOWN])}{more}. None is dropped, since shares are about the late "
        "ones"
    )
    claim, without = learned.claim_of(learned.chosen), learned.without_outliers
    if claim is not None and without is not None:
        text += (
            f": without {'that' if len(found) == 1 else 'those'} it would be "
            f"{math.ceil(without.value)} min instead of {math.ceil(claim.value)}"
        )
    return f"{text}. A slip is mended in the diary (`daylatch diary undo`) or in the log."


def aside_sentences(looks: Looks, site: Site) -> Iterator[str]:
    """Yield what was left out, and why."""
    zone = get_zone(site.zone)
    if looks.aside:
        shown = [site.face.instant(zone, one.instant_utc) for one in looks.aside[:_MOST_ASIDE]]
        more = " and others" * (len(looks.aside) > _MOST_ASIDE)
        count = "1 entry is" if len(looks.aside) == 1 else f"{len(looks.aside)} entries are"
        yield (
            f"{count} of no {looks.half.value}: {listed(shown)}{more} (was it the day before? "
            "Then write `yesterday` and the time)."
        )
    if looks.unsure:
        count = "1 entry tells" if looks.unsure == 1 else f"{looks.unsure} entries tell"
        yield f"{count} too little of when it was."
    if looks.on_shut_days:
        yield f"{days_of(looks.half, looks.on_shut_days)} on which a span kept the door shut."


def unlit_sentence(learned: Learned) -> str:
    """Return on which of the days the light does not come; empty if it always does."""
    unlit = learned.looks.dates[np.isnat(learned.light_utc)]
    if not len(unlit):
        return ""
    nights = "1 night" if len(unlit) == 1 else f"{len(unlit)} nights"
    return (
        f"{nights} without that light, as in white nights: {date_ranges(unlit)}. Then the door "
        "goes by its fallback; the picture shows when the birds went in."
    )


def lag_sentence(learned: Learned) -> str:
    """Return what is said of a fixed lag beside the light."""
    lag = learned.lag
    span = f"{lag.low_min} to {lag.high_min} min"
    if not lag.high_min:
        return f"No fixed lag beside the light: these {learned.half.value}s speak against any."
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
    early, late = round(season.earlier_min), round(season.later_min)
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
            f"Most of these {learned.half.value}s have one time of the clock, as no birds keep: it "
            "looks like a habit of who wrote them."
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
        Doubt.JUMPS: (
            f"These {learned.half.value}s jump where the clocks change, as birds never do: was the "
            "log's clock changed on that day? One that keeps standard time is given as clock in "
            "[[diary.log]], such as UTC."
        ),
        Doubt.VAGUE: (
            "So wide a span is no light to go by: look at the outliers, and go on noting."
        ),
        Doubt.FROM_PLAN: (
            f"Most of these {learned.half.value}s are at the very minute at which the door is due: "
            "were they written down from the plan, or by the door?"
        ),
        Doubt.KINDS_DIFFER: (
            "Moments and looks say different lights; the one told is between them. Which of the "
            "two is noted late?"
        ),
    }
    yield from (words[doubt] for doubt in learned.doubts)
    if learned.is_doubted:
        yield "So nothing is proposed."


def not_told_sentence(told: NotTold) -> str:
    """Return why no light can be told, and what it takes."""
    half = told.half.value
    takes = (
        f"it takes {FEWEST_EVENINGS} {half}s with the moment, or {FEWEST_CHECKS} looks, "
        f"{FEWEST_OF_EACH} of them before and {FEWEST_OF_EACH} after {_EVENT[told.half]}"
    )
    waited = ""
    if told.waited:
        waited = (
            f" On {days_of(told.half, told.waited)} it had waited as the door opened: look some "
            "minutes before that, too, and note `none waiting` or `3 waiting`."
        )
    has = (
        f"there {'is' if told.moments == 1 else 'are'} {days_of(told.half, told.moments)} with the "
        f"moment, and "
        f"{told.yes + told.no} looks near the usual time ({told.yes} yes, {told.no} no)"
    )
    match told.why:
        case WhyNot.TOO_FEW:
            return f"No light can be told: {has}; {takes}.{waited}"
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
        case WhyNot.TOO_VAGUE:
            return (
                f"No light is told: {has}, and they lie too far apart (within "
                f"{told.error_deg:.1f}° at {share_text(CONFIDENCE)} confidence). Look for slips: "
                "`daylatch diary show` lists what was noted."
            )
        case WhyNot.NOT_BELIEVED:
            return (
                f"No light is told: by this log {_EVENT[told.half]} with the Sun "
                f"{sun_text(told.light_deg, 0)}, and no hen keeps that (believed: from "
                f"{-BELIEVED_DEG[0]:g}° above to {BELIEVED_DEG[1]:g}° below). Is the log's clock "
                "another one? Give it as clock in [[diary.log]], such as UTC."
            )


def rules_sentence(rules: UnderRules) -> str:
    """Return on how many evenings all are in before the door shuts, by some rules."""
    found = f"all were in before it shuts on {rules.in_time} of {rules.evenings} evenings"
    if not rules.at_least and rules.in_time:
        return f"{found}: too few to say how it is on others."
    return (
        f"{found}; that is {share_text(rules.at_least)} of all evenings at least "
        f"({share_text(CONFIDENCE)} confidence)."
    )


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
    evening, morning = roosting.evening, roosting.morning
    if not isinstance(evening, Learned):
        if not isinstance(morning, Learned):
            return ""
        days = days_of(Half.MORNING, morning.days)
        return f"Your birds want out with the Sun {sun_text(morning.light_deg, 1)}, by {days}."
    place = "" if evening.light_deg >= 0 else " above the horizon"
    text = f"Your birds go in at {abs(evening.light_deg):.1f}°{place}"
    if evening.is_doubted:
        return f"{text}, if what was noted is to be believed: `daylatch roosting` says why not."
    if roosting.no_plan:
        return f"{text}; the rules of today give no plan of those evenings, so no more is said."
    if roosting.ahead is None:
        return f"{text}, by {days_of(Half.EVENING, evening.days)}: too few to say more."
    return f"{text}, {ahead_words(roosting.ahead)}."
