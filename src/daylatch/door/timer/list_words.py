"""What is said of what a timer does: of the door, unless a list is for something else."""

from __future__ import annotations

from typing import NamedTuple


class ListWords(NamedTuple):
    """What every form of a list says of the movements.

    Attributes
    ----------
    title : str
        What a page of it is called.
    rests : str
        What holds on a day without them.
    would_be_on : str
        Before two times between which it would be on, or open.
    off : str
        What a setting without them says.
    when : str
        When a setting is made.
    worst, late, never : str
        What is told of how far a list is off: its label, the word behind so many minutes, and what
        never happens.
    worst_means : str
        What the label means.
    missed : str
        What a setting that is made a day late does, with a place for the minutes.
    rounded : str
        How times are rounded to the timer's steps.
    after_a_power_cut : str
        What to do then.
    """

    title: str
    rests: str
    would_be_on: str
    off: str
    when: str
    worst: str
    late: str
    never: str
    worst_means: str
    missed: str
    rounded: str
    after_a_power_cut: str


DOOR_WORDS = ListWords(
    title="Timer settings",
    rests="the door stays shut",
    would_be_on="the door would be open",
    off="keep shut: switch the timer off",
    when=(
        "A setting holds from the opening of its date: make it the evening before, once the door "
        "has shut, or that morning before it opens."
    ),
    worst="Late at worst",
    late="late",
    never="never early",
    worst_means="Late at worst: minutes after the planned time, before the next setting.",
    missed=" If you make it a day late, the door moves up to {} min early that day.",
    rounded="rounded up",
    # Common practice, no source.
    after_a_power_cut=(
        "after one, compare its clock with one that is right, see that its programs are still "
        "there, and see that the door is as it should be now (`daylatch today`)"
    ),
)
