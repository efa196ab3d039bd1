"""What must hold of every log."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit_logs import audited, expected, only, seen
from daylatch.diary.audit.audit import Verdict
from daylatch.diary.moves import Expected

DAYS = 40
DUE = expected(DAYS)
FEW = settings(max_examples=25)


@st.composite
def logs(draw):
    """Logs with an offset, perhaps a drift and a step, gaps and strays."""
    offset = draw(st.integers(-300, 300))
    drift = draw(st.sampled_from([0.0, 0.1, -0.2]))
    size = draw(st.sampled_from([0, 12, -40, 200]))
    day = draw(st.floats(5, DAYS - 5))
    log = seen(
        DUE,
        lambda days: offset + drift * days + size * (days >= day),
        seed=draw(st.integers(0, 1000)),
    )
    random = np.random.default_rng(draw(st.integers(0, 1000)))
    kept = only(log, np.flatnonzero(random.random(len(log)) > 0.05))
    strays = (random.random(len(kept)) < 0.03) * random.integers(5, 40, len(kept))
    return only(replace(kept, at_utc=kept.at_utc + strays.astype("timedelta64[m]")), slice(None))


@FEW
@given(log=logs(), shift=st.integers(-60, 60))
def test_later_by_so_much_is_slower_by_so_much(log, shift):
    later = replace(log, at_utc=log.at_utc + np.timedelta64(shift, "m"))
    before, after = audited(DUE, log).clock, audited(DUE, later).clock
    assert after.offset_min == pytest.approx(before.offset_min - shift, abs=0.02)
    assert after.drift_ppm == pytest.approx(before.drift_ppm, abs=1)
    assert [round(step.minutes, 1) for step in after.steps] == pytest.approx(
        [round(step.minutes, 1) for step in before.steps], abs=0.11
    )


@FEW
@given(days=st.integers(3, 400))
def test_a_log_that_equals_the_due_times_shows_nothing(days):
    due = expected(days)
    result = audited(due, seen(due, jitter_min=0.0))
    assert (result.clock.has_offset, result.clock.has_drift, result.clock.steps) == (
        False,
        False,
        (),
    )
    assert result.clock.offset_min == result.clock.drift_ppm == 0
    assert result.counts[Verdict.ON_TIME] == 2 * days


@FEW
@given(log=logs(), seed=st.integers(0, 1000))
def test_the_order_of_rows_does_not_matter(log, seed):
    random = np.random.default_rng(seed)
    rows = random.permutation(len(DUE))
    due = Expected(*(getattr(DUE, name)[rows] for name in Expected.__dataclass_fields__))
    mixed = audited(due, only(log, random.permutation(len(log))))
    plain = audited(DUE, log)
    assert vars(mixed.clock) == vars(plain.clock)
    assert repr(mixed.movements) == repr(plain.movements)


@FEW
@given(log=logs(), days=st.integers(-5000, 5000))
def test_another_date_changes_nothing(log, days):
    shift = np.timedelta64(days, "D")
    due = replace(
        DUE,
        dates=DUE.dates + shift,
        planned_utc=DUE.planned_utc + shift,
        due_utc=DUE.due_utc + shift,
    )
    plain, other = audited(DUE, log), audited(due, replace(log, at_utc=log.at_utc + shift))
    assert other.clock.offset_min == plain.clock.offset_min
    assert other.clock.drift_ppm == plain.clock.drift_ppm
    assert [step.date - shift for step in other.clock.steps] == [
        step.date for step in plain.clock.steps
    ]
    assert [one.verdict for one in other.movements] == [one.verdict for one in plain.movements]


@FEW
@given(log=logs())
def test_every_due_movement_has_one_verdict_and_nothing_seen_is_told_twice(log):
    movements = audited(DUE, log).movements
    due = [one for one in movements if not np.isnat(one.due_utc)]
    assert [one.due_utc for one in due] == list(DUE.due_utc)
    told = [one.seen_utc for one in movements if not np.isnat(one.seen_utc)]
    assert len(told) == len(set(told))
    assert set(told) <= set(log.at_utc)
