"""``daylatch draw``: pictures of the year, of its nights and of two sets of rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.dates import refuse_undrawable
from daylatch.commands.extras import require_pictures, warn_about_letters
from daylatch.commands.now import date_at, marked_date_at, now_utc, warn_about
from daylatch.commands.output import deliver
from daylatch.commands.variants import load_variants
from daylatch.errors import UsageError
from daylatch.plan.plan import Plan, make_plan
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.paper.pictures.style import Picture

PICTURES = ("year", "nights", "compare")
FORMS = {".svg": "svg", ".png": "png", ".pdf": "pdf"}
"""What a file is meant to be by the end of its name."""


def run(
    path: Path,
    wanted: Range,
    *,
    picture: str,
    other: Path | None,
    changes: Sequence[str],
    output: Path | None,
    force: bool,
) -> None:
    """Draw a picture into a file."""
    if picture not in PICTURES:
        raise UsageError(f'--picture is "{picture}": write one of {", ".join(PICTURES)}')
    if output is None:
        raise UsageError(f"say where the picture goes, such as -o {picture}.svg (or .png, .pdf)")
    form = FORMS.get(output.suffix.lower())
    if form is None:
        raise UsageError(
            f"{output}: the end of the name says what kind of picture it is: write one of "
            f"{', '.join(FORMS)}"
        )
    names = None
    if picture == "compare":
        site, second, first_name, second_name = load_variants(path, other, changes)
        sites, names = [site, second], (first_name, second_name)
    elif other is not None or changes:
        raise UsageError(
            f"{'--with' if changes else other} is for comparisons: leave it out, or add "
            "--picture compare"
        )
    else:
        site = load_site(path)
        sites = [site]
    warn_about(site)
    first, last = wanted.dates(date_at(site, now_utc()))
    refuse_undrawable(first, last, "picture")
    require_pictures()
    from daylatch.paper.pictures.render import render, wrote  # noqa: PLC0415 - loads matplotlib

    today = marked_date_at(site)

    def content(_: bytes | None) -> bytes:
        plans = [make_plan(one, first, last) for one in sites]
        drawn = _draw(picture, plans, names, today)
        warn_about_letters(drawn.unknown)
        return render(drawn, form)

    deliver(
        content,
        lambda found: wrote(found, form),
        output,
        site_paths=[path] if other is None else [path, other],
        force=force,
        about=f"{first} to {last}",
    )


def _draw(
    picture: str, plans: Sequence[Plan], names: tuple[str, str] | None, today: dt.date
) -> Picture:
    # Each needs matplotlib, and no picture needs the other two.
    if picture == "nights":
        from daylatch.birds.nights.nights import make_nights  # noqa: PLC0415
        from daylatch.paper.pictures.nights import draw_nights  # noqa: PLC0415

        return draw_nights(make_nights(plans[0]), today, plans[0].site.settings.long_night_h)
    if names is not None:
        from daylatch.birds.compare.comparison import compare_plans  # noqa: PLC0415
        from daylatch.paper.pictures.comparison import draw_comparison  # noqa: PLC0415

        first, second = plans
        return draw_comparison(compare_plans(first, second, *names), today)
    from daylatch.paper.pictures.year import draw_year  # noqa: PLC0415

    return draw_year(plans[0], today)
