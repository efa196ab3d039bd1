"""Instants as files of the home have them: ``2026-11-26T12:00:00Z``."""

from __future__ import annotations

import numpy as np

_YEARS = range(1970, 2200)


def instant_text(instant_utc: np.datetime64 | None) -> str | None:
    """Return an instant as it is written down; None for none."""
    return None if instant_utc is None else f"{instant_utc.astype('datetime64[s]')}Z"


def read_instant(text: str | None) -> np.datetime64 | None:
    """Return an instant as it was written down [datetime64[s]]; None for none.

    Raises
    ------
    ValueError
        If it is none of these years.
    """
    if text is None:
        return None
    instant = np.datetime64(text.removesuffix("Z"), "s")
    if np.isnat(instant) or int(str(instant.astype("datetime64[Y]"))) not in _YEARS:
        raise ValueError("no instant")
    return instant
