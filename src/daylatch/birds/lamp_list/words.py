"""What is said of the list of a lamp's timer, alike in every form of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION, LAMP_CAUTION
from daylatch.door.timer.words import describe_list
from daylatch.wording import capital

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.lamp_list.lamp_list import LampList

CAUTIONS = f"{CAUTION} {LAMP_CAUTION}"
# What is counted, which two burns do not share though they may have as much of it.
_OF_EACH = ("Changes", "The timer")


def describe_lamp_list(found: LampList) -> Iterator[tuple[str, str]]:
    """Yield how good the lists of its burns are and how they are used, each with a label.

    What holds for both is said once.
    """
    told: dict[tuple[str, int], dict[str, str]] = {}
    for burn, one in found.burns:
        seen: dict[str, int] = {}
        for label, text in describe_list(one):
            seen[label] = seen.get(label, 0) + 1
            told.setdefault((label, seen[label]), {})[burn.name] = text
    for (label, _), texts in told.items():
        same = len(texts) == len(found.burns) and len(set(texts.values())) == 1
        if len(found.burns) == 1 or (same and label not in _OF_EACH):
            yield label, next(iter(texts.values()))
        else:
            yield label, "; ".join(f"{name}: {text.rstrip('.')}" for name, text in texts.items())


def lamp_words(found: LampList) -> str:
    """Return what the lamp is wanted for."""
    settings = found.plan.site.settings
    assert settings.laying is not None
    first, side, *_ = settings.laying.told(settings.writing.ways)
    return f"{capital(first)}, with {side}."
