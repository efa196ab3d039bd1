"""``daylatch compare``: two sets of rules side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.compare.comparison import compare_plans
from daylatch.commands.now import warn_about
from daylatch.commands.output import dates_of, hand_over
from daylatch.commands.variants import load_variants
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from daylatch.commands.asked import Asked


def run(asked: Asked, *, other: Path | None, changes: Sequence[str]) -> None:
    """Print a comparison or write it to a file."""
    form = asked.form("compare")
    first, second, first_name, second_name = load_variants(asked.path, other, changes)
    warn_about(first)
    dates = dates_of(asked, first)
    hand_over(
        asked,
        form,
        first,
        lambda write, _: write(
            compare_plans(
                make_plan(first, *dates), make_plan(second, *dates), first_name, second_name
            )
        ),
        about=f"{dates[0]} to {dates[1]}",
        also_read=() if other is None else (other,),
    )
