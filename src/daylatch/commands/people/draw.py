"""``daylatch draw``: pictures of the year, of its nights and of two sets of rules."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.commands.dates import refuse_undrawable
from daylatch.commands.due import due_of, warn_about_file
from daylatch.commands.extras import warn_about_letters
from daylatch.commands.forms import PICTURES
from daylatch.commands.now import marked_date_at, warn_about
from daylatch.commands.output import dates_of, hand_over
from daylatch.commands.variants import load_variants
from daylatch.errors import UsageError
from daylatch.plan.plan import Plan, make_plan
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from daylatch.commands.asked import Asked
    from daylatch.files.occasion import Occasion
    from daylatch.paper.pictures.style import Picture


def run(asked: Asked, *, picture: str, other: Path | None, changes: Sequence[str]) -> None:
    """Draw a picture into a file."""
    if picture not in PICTURES:
        raise UsageError(f'--picture is "{picture}": write one of {", ".join(PICTURES)}')
    form = asked.form_of_file(
        "draw",
        f"say where the picture goes, such as -o {picture}.svg (or .png, .pdf)",
    )
    names = None
    if picture == "compare":
        site, second, first_name, second_name = load_variants(asked.path, other, changes)
        sites, names = [site, second], (first_name, second_name)
    elif other is not None or changes:
        raise UsageError(
            f"{'--with' if changes else other} is for comparisons: leave it out, or add "
            "--picture compare"
        )
    else:
        site = load_site(asked.path)
        sites = [site]
    warn_about(site)
    first, last = dates_of(asked, site)
    refuse_undrawable(first, last, "picture")
    today = marked_date_at(site)

    def content(write: Callable[..., Any], _: Callable[[], Occasion]) -> bytes:
        plans = [make_plan(one, first, last) for one in sites]
        drawn = _draw(picture, plans, names, today)
        warn_about_letters(drawn.unknown)
        made: bytes = write(drawn)
        return made

    hand_over(
        asked,
        form,
        site,
        content,
        about=f"{first} to {last}",
        also_read=() if other is None else (other,),
    )


def _draw(
    picture: str, plans: Sequence[Plan], names: tuple[str, str] | None, today: dt.date
) -> Picture:
    # Each needs matplotlib, and no picture needs the other two.
    if picture == "nights":
        from daylatch.commands.birds.shut_in import nights_of  # noqa: PLC0415
        from daylatch.paper.pictures.nights import draw_nights  # noqa: PLC0415

        return draw_nights(nights_of(plans[0]), today, plans[0].site.settings.long_night_h)
    if names is not None:
        from daylatch.birds.compare.comparison import compare_plans  # noqa: PLC0415
        from daylatch.paper.pictures.comparison import draw_comparison  # noqa: PLC0415

        first, second = plans
        return draw_comparison(compare_plans(first, second, *names), today)
    from daylatch.commands.birds.sunlight import sunlight_of  # noqa: PLC0415
    from daylatch.paper.pictures.year import draw_year  # noqa: PLC0415

    due = due_of(plans[0])
    warn_about_file(due)
    return draw_year(due, today, sunlight_of(due))
