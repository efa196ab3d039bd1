"""A timer's list as JSON, for programs; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.door.timer.movements import MOVEMENTS
from daylatch.door.timer.words import day_shift, evening_before, timer_clock_words
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.wording import machine_time

if TYPE_CHECKING:
    from daylatch.door.timer.timer_list import Program, TimerList, TimerSetting
    from daylatch.files.occasion import Occasion

GENERATOR = "daylatch timer settings"
wrote = generator_is(GENERATOR)
FORMAT = 1


def render(found: TimerList, occasion: Occasion) -> bytes:
    """Return the file: how good the list is, and its settings one a line."""
    plan, timer = found.plan, found.timer
    head = head_of(plan.site, GENERATOR, FORMAT)
    head["from"], head["until"] = (str(date) for date in plan.dates[[0, -1]])
    head["timer"] = {
        "clock": found.clock.value,
        "clock_words": timer_clock_words(found),
        "step_min": timer.step_min,
        "clock_margin_min": timer.clock_margin_min,
        "settings_at_once": timer.at_once,
    }
    head["tried_out"] = list(found.tried_out)
    head["summary"] = {
        "changes": list(found.counts),
        "together": timer.together,
        "comes_round": found.comes_round,
        **{
            f"{move.name}_late_at_worst_min": late
            for move, late in zip(MOVEMENTS, found.worst_min, strict=True)
        },
        "guard_cuts_dates": found.guard_cost.dates,
        "guard_costs_changes": found.guard_cost.changes,
        "guard_costs_min": found.guard_cost.late_min,
        "monthly_changes": found.monthly_count,
        "monthly_late_at_worst_min": found.monthly_worst_min,
        "early_if_made_a_day_late_min": found.early_if_missed_min,
    }
    return lay_out(head, {"settings": map(_setting, found.settings)})


def _setting(setting: TimerSetting) -> dict[str, Any]:
    return {
        "from": setting.first.isoformat(),
        "until": setting.last.isoformat(),
        "timer": "on" if setting.is_open else "off",
        "put_in_on": evening_before(setting).isoformat(),
        "programs": [_program(program) for program in setting.programs],
    }


def _program(program: Program) -> dict[str, Any]:
    cells: dict[str, Any] = {"weekdays": list(program.weekdays)}
    columns = zip(
        MOVEMENTS,
        program.minutes,
        program.changes,
        program.late_min,
        program.on_wall,
        strict=True,
    )
    for move, minutes, changes, late_min, shown in columns:
        cells |= {
            move.name: None if minutes is None else machine_time(minutes),
            f"{move.name}_day": None if minutes is None else day_shift(minutes),
            f"{move.name}_changes": changes,
            f"{move.name}_late_at_worst_min": late_min,
            f"{move.name}_wall": [
                {"from": one.first.isoformat(), "time": machine_time(one.minutes)} for one in shown
            ],
        }
    return cells
