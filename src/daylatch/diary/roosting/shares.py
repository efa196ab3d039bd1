"""On how large a share of evenings a bound holds, and how sure that many evenings make it.

By order statistics: of n evenings the k-th latest is a bound that at least a share of all evenings
keeps, with a confidence that depends on n, k and the share alone, whatever the spread looks like,
as far as one evening says nothing of the next.

References
----------
S. S. Wilks, "Determination of sample sizes for setting tolerance limits", Annals of Mathematical
Statistics 12 (1941), 91-96. The bound by the spread's shape: R. E. Barlow and F. Proschan,
Mathematical Theory of Reliability (1965), chapter 2, on increasing failure rates (from memory).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

CONFIDENCE = 0.95
"""How sure a claim is at least (common practice)."""
SHARES = (0.8, 0.9, 0.95, 0.99)
"""The shares that are always told of."""
LEAST_TOLD = 0.5
"""Shares of fewer days than this are no help to anybody."""
_SHAPE_BEYOND = 2
"""Evenings that lie beyond the one from which the spread's shape goes on."""
_MOST_BY_SHAPE = 0.95
"""Beyond this share rare causes rule, of which the rest of the spread says nothing."""
_MOST_STRETCHED = 2.0
"""A longer way would lean on the shape more than on the evenings (our choice, no source)."""


class Claim(NamedTuple):
    """By when all are in, on a share of all evenings.

    Attributes
    ----------
    share : float
        Of evenings, of 1.
    confidence : float
        That it is at least that share, of 1.
    value : float
        The bound, as the values that it is of.
    by_shape : bool
        Whether the spread's shape has a part in it; else it is an evening of the log.
    """

    share: float
    confidence: float
    value: float
    by_shape: bool


class Refused(NamedTuple):
    """A share that the log cannot carry, and the evenings that it would take."""

    share: float
    needs: int


def confidences(evenings: int, share: float) -> Floats:
    """Return how sure it is that a share of all evenings lies at or below an evening of a log.

    Parameters
    ----------
    evenings
        How many the log has.
    share
        Of all evenings, of 1.

    Returns
    -------
    float64
        By how many of the log's lie later than the one that is the bound, from 0 to all of them.
    """
    count = np.arange(evenings + 1)
    log_factorials = np.concatenate([[0.0], np.cumsum(np.log(count[1:]))])
    log_chances = (
        log_factorials[-1]
        - log_factorials
        - log_factorials[::-1]
        + count * math.log(1.0 - share)
        + count[::-1] * math.log(share)
    )
    # More of them than those come later than the true bound of that share.
    out: Floats = 1.0 - np.cumsum(np.exp(log_chances))
    return out


def confidence_of(evenings: int, share: float, beyond: int) -> float:
    """Return the one of `confidences` with so many evenings beyond the bound."""
    return float(confidences(evenings, share)[beyond])


def needed(share: float, beyond: int = 0) -> int:
    """Return how many evenings a claim takes if so many of them are later than any bound."""
    low, high = beyond, beyond + 1
    while confidence_of(high, share, beyond) < CONFIDENCE:
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        if confidence_of(middle, share, beyond) < CONFIDENCE:
            low = middle
        else:
            high = middle
    return high


def largest_share(evenings: int, beyond: int = 0) -> float:
    """Return the largest share, in whole hundredths, that so many evenings carry; 0 for none."""
    return next(
        (
            percent / 100
            for percent in range(99, 0, -1)
            if beyond < evenings and confidence_of(evenings, percent / 100, beyond) >= CONFIDENCE
        ),
        0.0,
    )


def make_claims(
    values: Floats, shares: Sequence[float], *, has_shape: bool
) -> tuple[list[Claim], list[Refused]]:
    """Return what can be claimed of shares, and what cannot.

    Parameters
    ----------
    values
        Of each evening, the latest that it can have been; infinite where that is not known.
    shares
        Of all evenings, each of 1.
    has_shape
        Whether the values are spread as the birds are, and not as the looks at them.
    """
    ordered = np.sort(values)
    open_ended = int(np.isinf(ordered).sum())
    claims: list[Claim] = []
    refused = []
    for share in sorted(shares):
        beyond = _rank(len(ordered), share)
        if beyond is None or beyond < open_ended:
            refused.append(Refused(share, max(needed(share, open_ended), len(ordered) + 1)))
            continue
        claim = None
        if has_shape and beyond < _SHAPE_BEYOND:
            claim = _by_shape(ordered, share)
        if claim is None:
            value = float(ordered[len(ordered) - 1 - beyond])
            confidence = confidence_of(len(ordered), share, beyond)
            claim = Claim(share, confidence, value, by_shape=False)
        if claims and claim.value < claims[-1].value:
            # What a smaller share needs a larger one needs, too.
            claim = claim._replace(value=claims[-1].value, by_shape=claims[-1].by_shape)
        claims.append(claim)
    return claims, refused


def _rank(evenings: int, share: float) -> int | None:
    """Return how many evenings may lie beyond the bound of a share; None if there are too few."""
    # They fall with each evening more.
    enough = int((confidences(evenings, share)[:evenings] >= CONFIDENCE).sum())
    return enough - 1 if enough else None


def _by_shape(ordered: Floats, share: float) -> Claim | None:
    """Return the bound that the spread's shape gives, where the latest evenings decide alone.

    The largest share that the third latest evening carries is followed on to the one that is
    wanted: past the middle, ever fewer of those still out stay out for another minute. That is so
    of normal, logistic, gamma (of a shape over 1) and exponential spreads, the last of which is
    the limit; a single straggler then does not decide. None where the way would be too far.
    """
    evenings = len(ordered)
    if share > _MOST_BY_SHAPE or evenings <= _SHAPE_BEYOND:
        return None
    low, high = 0.5, share
    if confidence_of(evenings, low, _SHAPE_BEYOND) < CONFIDENCE:
        return None
    for _ in range(40):
        middle = (low + high) / 2
        if confidence_of(evenings, middle, _SHAPE_BEYOND) >= CONFIDENCE:
            low = middle
        else:
            high = middle
    stretched = math.log(0.5 / (1.0 - share)) / math.log(0.5 / (1.0 - low))
    if stretched > _MOST_STRETCHED:
        return None
    median = float(np.median(ordered))
    third = float(ordered[evenings - 1 - _SHAPE_BEYOND])
    return Claim(share, CONFIDENCE, median + stretched * (third - median), by_shape=True)
