"""How often somebody may ask, and by which name: what keeps a stranger from being a nuisance."""

from __future__ import annotations

from typing import NamedTuple

_MOST_KNOWN = 10_000


class Allowance(NamedTuple):
    """How often something may be done: so often at once, and so often a minute from then on."""

    burst: float
    per_min: float


REPORTS = Allowance(60, 60)
"""How often a door may report."""
STRANGERS = Allowance(10, 10)
"""How often somebody without a token may ask, or guess one."""

REFUSALS = Allowance(5, 1)
"""How often it is said that somebody was refused."""


class Rate:
    """Counts what is done, by whom.

    Parameters
    ----------
    allowance
        How often each may.
    """

    def __init__(self, allowance: Allowance) -> None:
        self.allowance = allowance
        self._left: dict[str, tuple[float, float]] = {}

    def allows(self, who: str, at_s: float) -> bool:
        """Count something, and return whether it may be done.

        Parameters
        ----------
        who
            By whom.
        at_s
            When, by any clock that only goes on [s].
        """
        burst, per_min = self.allowance
        left, since = self._left.pop(who, (burst, at_s))
        left = min(burst, left + (at_s - since) * per_min / 60)
        allowed = left >= 1
        self._left[who] = (left - allowed, at_s)
        if len(self._left) > _MOST_KNOWN:
            # Who has not asked for longest begins anew.
            del self._left[next(iter(self._left))]
        return allowed


def host_in(header: str) -> str:
    """Return the name in a ``Host`` header, in lower case and without its port."""
    name = header.strip().lower()
    if name.startswith("["):
        return name[1:].partition("]")[0]
    return name.partition(":")[0]
