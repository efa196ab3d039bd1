"""The page of norms, made from ``norms.toml``."""

from __future__ import annotations

from daylatch.site.norms import BY_SIZE, COMMON_PRACTICE, Norm, Norms, all_norms
from daylatch.wording import listed

REQUIREMENTS = {
    "floor_asleep": "House floor, to sleep",
    "floor_awake": "Waking space: house and joined run",
    "run_floor": "Run floor",
    "roost": "Roost",
    "birds_per_nest": "Birds a nest box",
    "nest_box": "Size of a nest box",
    "litter": "Littered floor",
    "feed": "Feed a day",
    "water": "Water a day",
    "day_length": "Length of day for laying",
    "dark": "Dark in 24 hours",
}
HEAD = """\
# Norms

This page is made by `make docs`; do not edit it.

`daylatch fit` says beside each figure of a house what one of these asks for;
[how](../how-to/does-the-house-fit.md). Choose one by its name under `[norms]` in the site file.
They are for a bird each, unless it says otherwise.

**Local law and any housing order come first.** The norms differ by country and by who wrote them
for whom, and none of them was written for your flock. EU and UK rules for laying hens hold from
350 hens up.

Two figures are the least and what is good: below the least fails, between them is tight. One
figure is the least: up to a tenth above it is tight. Of birds a nest box, the figures are what is
good and the most.

A law that no longer holds where it was made says so under its scope. No norm that was ever listed
here goes: a site file that names it goes on to load.

| mark | meaning |
|---|---|
| published | the text itself was read |
| secondary | read where it is quoted |
| common practice | of the trade, without a source |
| from memory | to be confirmed |
"""


def norms_page() -> str:
    """Return the page."""
    parts = [HEAD]
    for requirement, title in REQUIREMENTS.items():
        parts += [f"## {title}", ""]
        if requirement in Norms.model_fields:
            parts += [f"The key is `norms.{requirement}`.", ""]
        parts += ["| norm | figures | source | scope | year | mark |", "|---|---|---|---|---|---|"]
        parts += [_row(norm) for norm in all_norms().values() if norm.requirement == requirement]
        parts.append("")
    return "\n".join(parts).rstrip() + "\n"


def _row(norm: Norm) -> str:
    field = Norms.model_fields.get(norm.requirement)
    name = f"`{norm.name}`"
    by_size = all_norms().get(BY_SIZE.get(norm.requirement, ""))
    if by_size is norm:
        name += f" (default if `flock.size` is {listed(list(norm.by_size), 'or')})"
    elif field and field.default == norm.name:
        name += " (default otherwise)" if by_size else " (default)"
    figures = norm.wanted_text()
    if norm.by_size:
        figures = "; ".join(f"{size}: {norm.wanted_text(size)}" for size in norm.by_size)
    if norm.hot:
        figures += f"; in heat {norm.hot[0]:g} to {norm.hot[-1]:g} times as much"
    source = "none" if norm.mark == COMMON_PRACTICE else norm.source
    scope = "; ".join(filter(None, (norm.scope, norm.status)))
    return f"| {name} | {figures} | {source} | {scope} | {norm.year} | {norm.mark} |"
