"""What can keep the time in a door's clock, a line a kind.

From its line follow what ``clock.oscillator`` takes and what is said of it, what cold and heat do
to the clock, and what `daylatch drift` and its help say.
"""

from __future__ import annotations

from typing import NamedTuple


class Oscillator(NamedTuple):
    """One kind of oscillator.

    Attributes
    ----------
    name : str
        What the site file calls it.
    words : str
        What it is, as `daylatch check` tells it.
    drifts : str
        The same, before its accuracy, as `daylatch drift` tells it.
    about : str
        What it is and what to know of it, for the key's description.
    usual : str
        Which accuracy it mostly has [ppm], in words; empty where none is usual.
    holds : str
        Follows the accuracy of one that is not slowed: where it holds.
    is_slowed : bool
        Whether cold and heat slow it down, as they do a tuning-fork crystal.
    is_clock : bool
        Whether it is exact enough for a clock at all.
    """

    name: str
    words: str
    drifts: str
    about: str
    usual: str = ""
    holds: str = ""
    is_slowed: bool = False
    is_clock: bool = True


OSCILLATORS = {
    oscillator.name: oscillator
    for oscillator in (
        Oscillator(
            "crystal",
            "a plain crystal",
            "a crystal",
            "a plain 32.768 kHz crystal, which cold and heat slow down",
            usual="a plain crystal mostly has 20",
            is_slowed=True,
        ),
        Oscillator(
            "compensated",
            "a crystal compensated for temperature",
            "a crystal compensated for temperature",
            "one compensated for temperature",
            usual="one compensated for temperature 2",
            holds=" over its whole range",
        ),
        Oscillator(
            "rc",
            "an RC oscillator",
            "an RC oscillator",
            "an RC oscillator, which is no clock",
            is_clock=False,
        ),
    )
}


def list_oscillators() -> str:
    """Return what each kind is, for a sentence."""
    *others, last = (oscillator.about for oscillator in OSCILLATORS.values())
    return f"{'; '.join(others)}; or {last}"


def name_oscillators() -> str:
    """Return their names, for a sentence."""
    *others, last = OSCILLATORS
    return f"{', '.join(others)} or {last}"


def usual_accuracies() -> str:
    """Return which accuracies are usual [ppm], for a sentence."""
    return ", ".join(filter(None, (oscillator.usual for oscillator in OSCILLATORS.values())))
