"""``daylatch plan``: make a plan and put it where it is used."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from daylatch.arrays import MINUTE
from daylatch.commands.door.table import by_site_file, refuse_terminal, say_cautions
from daylatch.commands.due import due_of, warn_about_file
from daylatch.commands.now import warn
from daylatch.commands.output import hand_over, load
from daylatch.door.table import TableWish
from daylatch.plan.due_words import idle_timer_note
from daylatch.plan.plan import make_plan
from daylatch.wording import days_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.commands.asked import Asked
    from daylatch.commands.door.table import TableOptions
    from daylatch.files.occasion import Occasion
    from daylatch.plan.plan import Plan


def run(asked: Asked, *, table: TableOptions) -> None:
    """Plan a site and print the result or write it to a file."""
    form = asked.form("plan")
    is_table = form.name == "table"
    wish = TableWish()
    if is_table:
        wish = table.wish(asked.output)
        refuse_terminal(wish, asked.output)
    else:
        table.refuse()
    site, first, last = load(asked)
    if is_table:
        wish = by_site_file(wish, site, asked.output)
    elif form.name != "text" and idle_timer_note(site):
        warn(idle_timer_note(site))

    def content(write: Callable[..., Any], occasion: Callable[[], Occasion]) -> bytes:
        when = occasion()
        plan = make_plan(site, first, last)
        if is_table:
            _warn_about_guard(plan, wish)
            table_bytes: bytes = write(plan, when, wish=wish)
            return table_bytes
        due = due_of(plan)
        if form.is_calendar:
            warn_about_file(due)  # whose name no reader of a calendar is told
        made: bytes = write(due, when)
        return made

    about: str | Callable[[bytes], str] = f"{first} to {last}"
    if is_table:
        from daylatch.door.table.file import describe  # noqa: PLC0415 - for tables only

        about = partial(describe, wish=wish)
    hand_over(asked, form, site, content, about=about)
    if is_table:
        say_cautions(wish)


def _warn_about_guard(plan: Plan, wish: TableWish) -> None:
    """Print on how many days a table's width may carry a closing beyond the guard."""
    latest = plan.close_utc + (wish.within_min or 0) * MINUTE
    beyond = plan.is_open & (latest > plan.guard.close_utc) & ~plan.decisions.past_guard_close
    if beyond.any():
        warn(
            f"a closing that comes up to {wish.within_min} min late may lie beyond the guard, "
            f"where predators hunt, on {days_text(int(beyond.sum()))}: a smaller --within avoids "
            "that"
        )
