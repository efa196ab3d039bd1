"""A timer's list as JSON, for programs; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.door.timer.words import day_shift, evening_before, timer_clock_words
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.wording import machine_time

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.timer.timer_list import Program, TimerList, TimerSetting
    from daylatch.files.occasion import Occasion

GENERATOR = "daylatch timer settings"
wrote = generator_is(GENERATOR)
FORMAT = 1


def render(found: TimerList, occasion: Occasion) -> bytes:
    """Return the file: how good the list is, and its settings one a line."""
    head = head_of(found.plan.site, GENERATOR, FORMAT)
    head["from"], head["until"] = (str(date) for date in found.plan.dates[[0, -1]])
    head |= about_list(found)
    head["summary"] |= {
        "guard_cuts_dates": found.guard_cost.dates,
        "guard_costs_changes": found.guard_cost.changes,
        "guard_costs_min": found.guard_cost.late_min,
    }
    return lay_out(head, {"settings": list_settings(found)})


def about_list(found: TimerList) -> dict[str, Any]:
    """Return what the timer is and how good its list is."""
    timer = found.timer
    head: dict[str, Any] = {}
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
            f"{move.name}_{move.wrong}_at_worst_min": late
            for move, late in zip(found.movements, found.worst_min, strict=True)
        },
        "monthly_changes": found.monthly_count,
        "monthly_late_at_worst_min": found.monthly_worst_min,
        "early_if_made_a_day_late_min": found.early_if_missed_min,
    }
    return head


def list_settings(found: TimerList) -> Iterator[dict[str, Any]]:
    """Yield the settings."""
    return (_setting(found, setting) for setting in found.settings)


def _setting(found: TimerList, setting: TimerSetting) -> dict[str, Any]:
    return {
        "from": setting.first.isoformat(),
        "until": setting.last.isoformat(),
        "timer": "on" if setting.is_open else "off",
        "put_in_on": evening_before(setting).isoformat(),
        "programs": [_program(found, program) for program in setting.programs],
    }


def _program(found: TimerList, program: Program) -> dict[str, Any]:
    cells: dict[str, Any] = {"weekdays": list(program.weekdays)}
    columns = zip(
        found.movements,
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
            f"{move.name}_{move.wrong}_at_worst_min": late_min,
            f"{move.name}_wall": [
                {"from": one.first.isoformat(), "time": machine_time(one.minutes)} for one in shown
            ],
        }
    return cells
