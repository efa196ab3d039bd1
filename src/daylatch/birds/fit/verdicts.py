"""What comes of comparing a figure with a norm."""

from __future__ import annotations

from enum import Enum

TIGHT_SHARE = 0.10
"""A norm with one figure is met tightly within this share of it (this program's choice)."""
# What the arithmetic of units may lose, as a share.
ROUNDING = 1e-9


class Verdict(Enum):
    """What comes of comparing a house with a norm."""

    PASS = "pass"
    TIGHT = "tight"
    FAIL = "fail"
    NOT_CHECKED = "not checked"
    DOES_NOT_ARISE = "does not arise"


WORSE = (Verdict.PASS, Verdict.TIGHT, Verdict.FAIL)
"""Verdicts in their order, each worse than the one before."""


def judge(value: float, figures: tuple[float, ...]) -> Verdict:
    """Return whether there is enough of something.

    Parameters
    ----------
    value
        What there is.
    figures
        The least and what is good, or one figure; in the same unit.
    """
    least, good = figures[0], figures[-1]
    if value < least * (1 - ROUNDING):
        return Verdict.FAIL
    if len(figures) == 1:
        return Verdict.TIGHT if _within(value, least * (1 + TIGHT_SHARE)) else Verdict.PASS
    return Verdict.PASS if value >= good * (1 - ROUNDING) else Verdict.TIGHT


def judge_most(value: float, figures: tuple[float, ...]) -> Verdict:
    """Return whether something is few enough: figures are what is good and the most, or the most.

    The other way round than `judge`.
    """
    good, most = figures[0], figures[-1]
    if not _within(value, most):
        return Verdict.FAIL
    if len(figures) == 1:
        tight = value >= most * (1 - TIGHT_SHARE) * (1 - ROUNDING)
        return Verdict.TIGHT if tight else Verdict.PASS
    return Verdict.PASS if _within(value, good) else Verdict.TIGHT


def _within(value: float, bound: float) -> bool:
    return value <= bound * (1 + ROUNDING)
