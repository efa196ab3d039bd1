"""What is learned of a flock as text: the light, the shares, the proposal and what it costs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.console import printable
from daylatch.diary.roosting.finding import NotTold
from daylatch.diary.roosting.looks import Half
from daylatch.diary.roosting.proposal_words import (
    cost_sentences,
    no_proposal_sentence,
    proposal_lines,
    split_sentence,
)
from daylatch.diary.roosting.shares import LEAST_TOLD
from daylatch.diary.roosting.words import (
    aside_sentences,
    claim_sentence,
    doubt_sentences,
    lag_sentence,
    light_sentence,
    not_told_sentence,
    one_sentence,
    outlier_sentence,
    refusal_sentence,
    rules_sentence,
    season_sentence,
    share_text,
    spread_sentence,
    unlit_sentence,
)
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.summary import describe_place
from daylatch.wording import labelled, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.roosting.half import Learned
    from daylatch.diary.roosting.roosting import Roosting
    from daylatch.site.tables import Site

FIRST_LINE = "daylatch roosting"
wrote = first_line_is(FIRST_LINE)
_LABEL = 15
_AS_IT_IS = "As it is"
_HEADINGS = {Half.EVENING: "Evenings: going in", Half.MORNING: "Mornings: wanting out"}
_IN = {Half.EVENING: "All in", Half.MORNING: "Wanting out"}


def render(roosting: Roosting) -> bytes:
    """Return what was learned, what could stand in the site file, what it costs and the caution."""
    site = roosting.site
    place = f"{describe_place(site)}, {roosting.first} to {roosting.last}"
    lines = [*wrapped([FIRST_LINE, site.name, place, printable(roosting.source)]), ""]
    sentence = one_sentence(roosting)
    lines += [*wrapped([sentence]), ""] if sentence else []
    for half, found in ((Half.EVENING, roosting.evening), (Half.MORNING, roosting.morning)):
        if found is not None:
            lines += [_HEADINGS[half], *labelled(_entries(found, site), _LABEL), ""]
    if roosting.no_plan:
        trouble = f"The rules of today give no plan of those days: {roosting.no_plan}"
        lines += ["The door by its rules", *labelled([("", trouble)], _LABEL), ""]
    if roosting.rules:
        rules = [(printable(one.name) or _AS_IT_IS, rules_sentence(one)) for one in roosting.rules]
        lines += ["The door by its rules", *_beside(rules), ""]
    if roosting.costs is not None:
        told = enumerate(cost_sentences(roosting.costs))
        costs = [("Costs" if not row else "", text) for row, text in told]
        lines += ["With what is proposed", *labelled(costs, _LABEL), ""]
    return text_file.lay_out([*lines, *wrapped([CAUTION])])


def _beside(entries: list[tuple[str, str]]) -> Iterator[str]:
    """Yield entries, of which a label that has no room stands on a line of its own."""
    for label, text in entries:
        if len(label) < _LABEL:
            yield from labelled([(label, text)], _LABEL)
        else:
            yield from [label, *labelled([("", text)], _LABEL)]


def _entries(found: Learned | NotTold, site: Site) -> Iterator[tuple[str, str]]:
    if isinstance(found, NotTold):
        yield "Light", not_told_sentence(found)
        yield from (("Left out", text) for text in aside_sentences(found.looks, site))
        return
    yield "Light", light_sentence(found)
    yield from (("  but", text) for text in doubt_sentences(found))
    yield "Spread", spread_sentence(found)
    told = [claim for claim in found.claims if claim.share >= LEAST_TOLD]
    for row, claim in enumerate(told):
        label = _IN[found.half] if not row else ""
        yield label, f"on {share_text(claim.share)}: {claim_sentence(found.half, claim)}"
    refused = refusal_sentence(found)
    if refused:
        yield "Refused", refused
    outliers = outlier_sentence(found, site)
    if outliers:
        yield "Outliers", outliers
    yield from (("Left out", text) for text in aside_sentences(found.looks, site))
    unlit = unlit_sentence(found)
    if unlit:
        yield "Left out", unlit
    yield "Lag", lag_sentence(found)
    yield "Other seasons", season_sentence(found)
    if found.proposal is not None:
        for row, line in enumerate(proposal_lines(found.half, found.proposal)):
            yield "Proposal" if not row else "", line
        yield "  why so", split_sentence(found)
    elif not found.is_doubted:
        yield "Proposal", no_proposal_sentence(found)
