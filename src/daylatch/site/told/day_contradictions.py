"""Settings of a day that do not go together, as the file has them and as each span changes them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from daylatch.arrays import DAY_MIN
from daylatch.clock import get_zone
from daylatch.site.messages import toml_text
from daylatch.site.reading.slips import minutes_near, nominal_minutes
from daylatch.site.table import chosen
from daylatch.site.tables import SETTING_TABLES
from daylatch.wording import duration_text, listed

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping, Sequence

    from daylatch.site.tables import Site, Span

_QUARTER_MIN = 360
_OF_MOVEMENT = ("light", "offset_min", "not_before", "not_after", "fallback", "dark_fallback")
_NEEDS = {
    "day.least_open_h": ("day.widen",),
    "night.least_h": ("night.lengthen",),
}
"""What says how a wish is kept, and has no effect without one."""
_WISHES = {"day.least_open_h": "least open time", "night.least_h": "least night"}


@dataclass(frozen=True)
class _Settings:
    """The settings in force: those of the file, changed by one span or by none.

    Attributes
    ----------
    number : int
        Of the span; 0 for none.
    changes : mapping
        What the span gives.
    base : mapping
        What the file gives, with the defaults.
    noon : int
        When the Sun stands highest [min].
    shared : frozenset
        The keys that other spans give on some of the same dates: what holds is not one value.
    """

    number: int
    changes: Mapping[str, Any]
    base: Mapping[str, Any]
    noon: int
    shared: frozenset[str] = frozenset()

    def value(self, key: str) -> Any:
        """Return what holds."""
        return self.changes.get(key, self.base.get(key))

    def said(self, key: str) -> str:
        """Return a setting with the name of where it stands."""
        span = f"span {self.number} " if key in self.changes else ""
        value = self.value(key)
        # How a span takes a limit away.
        return f"{span}{key} = {toml_text('none' if value is None else value)}"

    def minutes(self, key: str) -> int | None:
        """Return a wall-clock time in minutes, on the side of the day where its movement is."""
        time = self.value(key)
        if time is None:
            return None
        side = -_QUARTER_MIN if key.startswith("open.") else _QUARTER_MIN
        return minutes_near(time, self.noon + side)

    def touches(self, *keys: str) -> bool:
        """Return whether the span has a part in this, or there is none."""
        if not self.shared.isdisjoint(keys):
            return False
        return not self.number or not self.changes.keys().isdisjoint(keys)


def day_contradictions(site: Site, today: dt.date) -> Iterator[str]:
    """Yield a sentence for each pair of settings of a day that do not go together."""
    settings = site.settings
    base: dict[str, Any] = {
        f"{table}.{key}": getattr(getattr(settings, table), key)
        for table in SETTING_TABLES
        for key in type(getattr(settings, table)).model_fields
    }
    noon = nominal_minutes(site.longitude_deg, get_zone(site.zone))
    plain = _Settings(0, {}, base, noon)
    spans = [
        _Settings(number, dict(span.changes()), base, noon, _shared(span, settings.spans))
        for number, span in enumerate(settings.spans, start=1)
    ]
    for wish, keys in _NEEDS.items():
        table, _, _ = wish.partition(".")
        if not any(each.value(wish) for each in (plain, *spans)):
            for key in chosen(getattr(settings, table), *(key.partition(".")[2] for key in keys)):
                yield _wish_missing(plain, f"{table}.{key}", wish)
    for each in (plain, *spans):
        if each.value("shut"):
            yield from _shut(each)
            continue
        yield from _limits(each)
        yield from _fallbacks(each)
        if each.number:
            yield from _unkept_wishes(each)
            yield from _fixed(each)
    yield from _all_over(settings.spans, today)


def _shared(span: Span, spans: Sequence[Span]) -> frozenset[str]:
    """Return the keys that other spans give on some of a span's dates."""
    return frozenset(
        key
        for other in spans
        if other is not span and other.touches(span.first, span.last)
        for key, _ in other.changes()
    )


def _wish_missing(settings: _Settings, key: str, wish: str) -> str:
    return (
        f"{settings.said(key)} and {settings.said(wish)}: no {_WISHES[wish]} is asked for, so it "
        f"has no effect: ask for one, or take {key} out"
    )


def _unkept_wishes(settings: _Settings) -> Iterator[str]:
    for wish, keys in _NEEDS.items():
        for key in keys:
            if settings.touches(key) and wish not in settings.shared and not settings.value(wish):
                yield _wish_missing(settings, key, wish)


def _limits(settings: _Settings) -> Iterator[str]:
    """Yield limits that leave less than is asked for."""
    if settings.value("open.fixed") or settings.value("close.fixed"):
        return
    keys = ("open.not_before", "close.not_after", "day.least_open_h")
    first, last = map(settings.minutes, keys[:2])
    if first is not None and last is not None and settings.touches(*keys):
        left = last - first
        if 0 < left < round(settings.value(keys[2]) * 60):
            yield (
                f"{', '.join(map(settings.said, keys[:2]))} and {settings.said(keys[2])}: the "
                f"limits leave {duration_text(left)}, and no day is widened past a limit: move a "
                "limit, or ask for less"
            )
    keys = ("open.not_after", "close.not_before", "night.least_h")
    first, last = map(settings.minutes, keys[:2])
    if first is not None and last is not None and settings.touches(*keys):
        left = DAY_MIN - (last - first)
        if left < round(settings.value(keys[2]) * 60):
            yield (
                f"{', '.join(map(settings.said, keys[:2]))} and {settings.said(keys[2])}: the "
                f"limits leave a night of {duration_text(left)}, and a least night overrides them: "
                "move a limit, or ask for less"
            )


def _fallbacks(settings: _Settings) -> Iterator[str]:
    """Yield fallback times that a limit moves, so that they never come."""
    for side in ("open", "close"):
        for name in ("fallback", "dark_fallback"):
            key = f"{side}.{name}"
            time = settings.minutes(key)
            for limit, sign in ((f"{side}.not_before", 1), (f"{side}.not_after", -1)):
                minutes = settings.minutes(limit)
                if time is None or minutes is None or not settings.touches(key, limit):
                    continue
                if sign * time < sign * minutes:
                    yield (
                        f"{settings.said(key)} and {settings.said(limit)}: the limit holds for a "
                        "fallback too, so that time never comes: move one of them"
                    )


def _shut(settings: _Settings) -> Iterator[str]:
    others = [key for key in settings.changes if key != "shut"]
    if others:
        yield (
            f"{settings.said('shut')} and {settings.said(others[0])}: the door does not move on "
            f"those dates, so {others[0]} has no effect: take one of them out"
        )


def _fixed(settings: _Settings) -> Iterator[str]:
    """Yield what a fixed time leaves without effect, and limits that it ignores."""
    for side in ("open", "close"):
        key = f"{side}.fixed"
        fixed = settings.minutes(key)
        if fixed is None:
            continue
        # What is taken away by "none" is not missed.
        others = [
            other
            for other in (f"{side}.{name}" for name in _OF_MOVEMENT)
            if settings.changes.get(other) is not None
        ]
        if others:
            yield (
                f"{settings.said(key)} and {listed(list(map(settings.said, others)))}: a fixed "
                f"time replaces light and limits: take {listed(others)} out of the span, or the "
                "fixed time"
            )
        for limit, sign in ((f"{side}.not_before", 1), (f"{side}.not_after", -1)):
            minutes = settings.minutes(limit)
            if limit in settings.changes or limit in settings.shared or minutes is None:
                continue
            if sign * fixed < sign * minutes:
                yield (
                    f"{settings.said(key)} and {settings.said(limit)}: a fixed time ignores the "
                    "limit, and this one lies beyond it: move one of them, or write "
                    f'{limit} = "none" into the span if it is meant'
                )


def _all_over(spans: Sequence[Span], today: dt.date) -> Iterator[str]:
    if not spans:
        return
    number, latest = max(enumerate(spans, start=1), key=lambda item: item[1].last)
    if latest.last < today:
        yield (
            f"span {number} until = {latest.last} and today is {today}: every span is over: give "
            "new dates, or take them out"
        )
