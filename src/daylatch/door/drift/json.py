"""How wrong a door's clock may be as JSON; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.door.drift.drift import rounded_up
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is

if TYPE_CHECKING:
    from daylatch.door.drift.drift import Drift

GENERATOR = "daylatch clock drift"
wrote = generator_is(GENERATOR)
FORMAT = 1


def render(drift: Drift) -> bytes:
    """Return the file: what is known of the clock, and a line for each date."""
    facts, good, fast_good = drift.facts, drift.good_until, drift.fast_good_until
    head = head_of(drift.site, GENERATOR, FORMAT)
    head["from"], head["until"] = drift.first.isoformat(), drift.last.isoformat()
    head["timekeeping"] = {
        "accuracy_ppm": facts.accuracy_ppm,
        "oscillator": facts.oscillator,
        "coldest_c": facts.coldest,
        "warmest_c": facts.warmest,
        "set_on": drift.set_on.isoformat(),
        "set_error_s": facts.set_error_s,
        "margin_min": facts.margin_min,
        "slow_ppm": round(drift.slow_ppm, 3),
        "fast_ppm": round(drift.fast_ppm, 3),
        "is_no_clock": drift.is_no_clock,
    }
    head["set_again_by"] = None if good is None else good.isoformat()
    head["fast_within_margin_until"] = None if fast_good is None else fast_good.isoformat()
    head["margin_without_setting_min"] = drift.needed_margin_min(drift.last)
    rows = (
        {
            "date": date.isoformat(),
            "slow_at_most_s": rounded_up(drift.slow_s(date)),
            "fast_at_most_s": rounded_up(drift.fast_s(date)),
            "within_margin": good is not None and date <= good,
        }
        for date in drift.dates
    )
    return lay_out(head, {"days": rows})
