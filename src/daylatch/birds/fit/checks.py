"""Each requirement of a house, compared with its norm."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import HOUR, MINUTE
from daylatch.birds.fit.intake import daily_intake
from daylatch.birds.fit.line import REQUIREMENTS, Line, Need
from daylatch.birds.fit.stays import Case, Stays, share_of_days
from daylatch.birds.fit.verdicts import ROUNDING, WORSE, Verdict, judge, judge_most
from daylatch.site.norms import Norms, all_norms
from daylatch.site.values.measures import FIGURES, GIVEN_FIGURES, amount_text
from daylatch.wording import listed, to_minutes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from daylatch.birds.nights.nights import Nights
    from daylatch.site.housing import Flock, House, Run
    from daylatch.site.norms import Norm
    from daylatch.site.told.sizes import Doubt
    from daylatch.site.values.measures import Measures


_AIR = (
    "No norm with a figure is known. Watch the air: people smell ammonia at 20 to 30 ppm, keep it "
    "under 25 ppm (Penn State, read where it is quoted); birds show signs above 20 to 25 ppm "
    "(UC Davis, 2020, read where it is quoted)."
)
_SOMETHING_TO_DO = (
    "Bored, confined birds peck feathers: give space, perches and hanging greens (common "
    "practice, no source). A file cannot tell: look."
)
_MOST_FIGURES = 12
_FLOOR_KEY = "floor_m2 or floor_ft2"
_ROOST_KEY = "roost_m or roost_ft"
_BOX_KEY = "nest_box_cm or nest_box_in"
_LITTER_KEY = "littered_share"


@dataclass(frozen=True, eq=False)
class Checks:
    """Goes through the requirements one by one; each is checked by the method of its name."""

    nights: Nights
    norms: Norms
    flock: Flock
    house: House
    run: Run
    stays: Stays
    doubts: Sequence[Doubt]
    measures: Measures

    def lines(self) -> Iterator[Line]:
        """Yield the lines in the order in which they are read."""
        for requirement, (_, case) in REQUIREMENTS.items():
            if case is not Case.AWAKE or self.stays.are_awake:
                line: Line = getattr(self, requirement)()
                doubts = (doubt for doubt in self.doubts if doubt.requirement == requirement)
                yield replace(line, doubts=tuple(f"{doubt.words}." for doubt in doubts))
            elif len(self.stays.unknown):
                say = "Not known when the door opens."
                yield Line(requirement, Verdict.NOT_CHECKED, notes=(say,))
            else:
                yield Line(requirement, Verdict.DOES_NOT_ARISE)

    def shared_out(
        self,
        requirement: str,
        total: float | None,
        table: str,
        key: str,
        *notes: str,
        where: str = "",
    ) -> Line:
        """Return the line of what is shared out among the birds.

        Parameters
        ----------
        total
            What all birds have, in the base of the norm's unit; None if the file does not say.
        table, key
            What to add to the file then.
        notes
            What else to know.
        where
            Follows the figure.
        """
        birds, size = self.flock.birds, self.flock.size
        norm = self.norms.norm(requirement, size)
        wanted, figures = norm.asks_text(size, self.measures), norm.base_figures(size)
        missing = _missing(("birds", "flock", birds), (key, table, total))
        if birds is None or total is None:
            return Line(requirement, Verdict.NOT_CHECKED, norm, wanted=wanted, notes=missing)
        each = total / birds
        found = f"{self.measures.amount((each,), norm.unit)} a bird{where}"
        if figures is None:
            notes = (_no_figure(norm, size), *notes)
            return Line(requirement, Verdict.NOT_CHECKED, norm, found, values=(each,), notes=notes)
        verdict = judge(each, figures)
        if verdict is Verdict.FAIL:
            found = f"{self.told_apart(each, figures[0], norm.unit)} a bird{where}"
            room = int(total / figures[0] * (1 + ROUNDING))
            notes = (f"By this norm there is room for {_count(room, 'bird')}.", *notes)
        return Line(requirement, verdict, norm, found, wanted, (each,), notes)

    def told_apart(self, each: float, least: float, unit: str) -> str:
        """Return an amount to so many figures that it does not look like what is asked for."""
        texts = (
            [self.measures.amount((value,), unit, figures) for value in (each, least)]
            for figures in range(FIGURES, _MOST_FIGURES)
        )
        plain = self.measures.amount((each,), unit)
        return next((found for found, wanted in texts if found != wanted), plain)

    def floor_asleep(self) -> Line:
        """Return the line of the floor for sleeping."""
        notes = []
        if len(self.stays.long):
            notes.append(
                f"{_count(len(self.stays.long), 'night')} over {self.stays.long_night_h:g} h: "
                "common practice wants more floor then, with feed and water inside, "
                "and names no figure."
            )
        return self.shared_out("floor_asleep", self.house.area_m2, "house", _FLOOR_KEY, *notes)

    def roost(self) -> Line:
        """Return the line of the roosts."""
        return self.shared_out("roost", self.house.roost_cm, "house", _ROOST_KEY)

    def floor_awake(self) -> Line:
        """Return the line of the space that the birds have while they are awake and shut in."""
        house_m2, run = self.house.area_m2, self.run
        if not run.joined:
            say = {
                None: "The run is not said to be joined, so only the house counts: add joined "
                "under [run].",
                False: "The run is not joined, so only the house counts.",
            }[run.joined]
            return self.shared_out(
                "floor_awake", house_m2, "house", _FLOOR_KEY, say, where=", in the house"
            )
        roof = {
            True: "The run has a roof, as some housing orders want: your order decides.",
            False: "The run has no roof, and a housing order may want one: your order decides.",
            None: "Add covered under [run]: a housing order may want a roof; your order decides.",
        }[run.covered]
        table = "house" if house_m2 is None else "run"
        both = None if house_m2 is None or run.area_m2 is None else house_m2 + run.area_m2
        return self.shared_out(
            "floor_awake", both, table, _FLOOR_KEY, roof, where=", in house and run"
        )

    def feed(self) -> Line:
        """Return the line of the feed."""
        return self.intake("feed", inside=self.house.feed_inside)

    def water(self) -> Line:
        """Return the line of the water."""
        return self.intake("water", inside=self.house.water_inside)

    def something_to_do(self) -> Line:
        """Return the line of what keeps birds busy, which a file cannot tell."""
        return Line("something_to_do", Verdict.NOT_CHECKED, notes=(_SOMETHING_TO_DO,))

    def run_floor(self) -> Line:
        """Return the line of the run's floor."""
        return self.shared_out("run_floor", self.run.area_m2, "run", _FLOOR_KEY)

    def intake(self, requirement: str, *, inside: bool | None) -> Line:
        """Return the line of feed or water that must be inside, with how much."""
        birds, size = self.flock.birds, self.flock.size
        norm = self.norms.norm(requirement, size)
        key = f"{requirement}_inside"
        notes = _missing(("birds", "flock", birds), (key, "house", inside))
        verdict = Verdict.NOT_CHECKED if notes else Verdict.PASS
        figures = norm.base_figures(size)
        if figures is None:
            notes = (*notes, f"How much is not known: {_no_figure(norm, size)}")
        if inside is False:
            verdict = Verdict.FAIL
            if self.run.joined:
                notes = (*notes, f"If it stands in the joined run, write {key} = true.")
        if requirement == "water":
            notes = (*notes, *self.weather(norm))
        return Line(
            requirement,
            verdict,
            norm,
            {True: "within reach", False: "none within reach", None: ""}[inside],
            norm.asks_text(size, self.measures),
            notes=notes,
            needs=tuple(self.needs(requirement)),
        )

    def weather(self, norm: Norm) -> Iterator[str]:
        """Yield what temperature does to drinking, as far as a source says."""
        match self.flock.temperature:
            case "hot" if norm.hot:
                low, high = (f"{(factor - 1) * 100:.0f}" for factor in norm.hot)
                yield f"Raised by {low} to {high} % for heat, as the norm says."
            case "hot":
                scaling = listed([other.name for other in all_norms().values() if other.hot])
                yield f"This norm has no figure for heat, when birds drink more; {scaling} has."
            case "cold":
                yield "Water freezes overnight: look each morning. No source counts cold in."
            case "mild":
                pass
            case None:
                yield "Heat and cold are not counted in: add temperature under [flock]."

    def needs(self, requirement: str) -> Iterator[Need]:
        """Yield what must be inside in the lock-in with the most light, and in each run of days.

        Nothing if it is not known how much the birds take in.
        """
        intake = daily_intake(self.norms, self.flock, requirement)
        if intake is None:
            return
        least, most = intake.least, intake.most
        nights = self.nights
        if len(self.stays.awake):
            row = int(np.argmax(np.where(nights.single, nights.waking / HOUR, -1.0)))
            share = share_of_days(nights, row)
            minutes = int(to_minutes(nights.waking[row]) // MINUTE)
            date = nights.dates[row]
            yield Need(date, date, 0, minutes, share, least * share, most * share)
        rows = np.flatnonzero(~nights.due.is_open)
        # By rows and not by dates: a date that the calendar skipped interrupts nothing.
        for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1):
            if len(run):
                first, last = nights.plan.dates[run[[0, -1]]]
                days = len(run)
                yield Need(first, last, days, 0, float(days), least * days, most * days)

    def birds_per_nest(self) -> Line:
        """Return the line of how many birds share a nest box."""
        norm = self.norms.norm("birds_per_nest")
        birds, boxes = self.flock.birds, self.house.nest_boxes
        wanted, figures = norm.asks_text(None, self.measures), norm.base_figures()
        assert figures is not None
        if boxes == 0:
            return Line("birds_per_nest", Verdict.FAIL, norm, "no nest box", wanted)
        if birds is None or boxes is None:
            missing = _missing(("birds", "flock", birds), ("nest_boxes", "house", boxes))
            return Line("birds_per_nest", Verdict.NOT_CHECKED, norm, wanted=wanted, notes=missing)
        each = birds / boxes
        found = f"{amount_text((each,), 'birds')} a box"
        return Line(
            "birds_per_nest", judge_most(each, figures), norm, found, wanted, values=(each,)
        )

    def nest_box(self) -> Line:
        """Return the line of the size of a nest box: its sides by length against the norm's."""
        norm, sides = self.norms.norm("nest_box"), self.house.nest_box_sides_cm
        wanted, figures = norm.asks_text(None, self.measures), norm.base_figures()
        assert figures is not None
        if self.house.nest_boxes == 0:
            return Line("nest_box", Verdict.DOES_NOT_ARISE, norm)
        if sides is None:
            missing = _missing((_BOX_KEY, "house", sides))
            return Line("nest_box", Verdict.NOT_CHECKED, norm, wanted=wanted, notes=missing)
        have = tuple(sorted(sides))
        pairs = list(zip(have, sorted(figures), strict=True))
        verdict = max((judge(side, (figure,)) for side, figure in pairs), key=WORSE.index)
        notes: tuple[str, ...] = ()
        if verdict is Verdict.FAIL:
            short = max(figure - side for side, figure in pairs)
            notes = (f"Short by {self.measures.amount((short,), norm.unit)}.",)
        found = self.measures.sides(sides, norm.unit)
        return Line("nest_box", verdict, norm, found, wanted, have, notes)

    def litter(self) -> Line:
        """Return the line of the littered floor: its area, and its share of the floor."""
        house, norm = self.house, self.norms.norm("litter")
        share, littered_m2 = house.littered_share, house.littered_area_m2
        if share == 0:
            wanted = norm.asks_text(None, self.measures)
            return Line("litter", Verdict.FAIL, norm, "none littered", wanted)
        if share is None and littered_m2 is not None and house.area_m2:
            share = littered_m2 / house.area_m2
        key = _LITTER_KEY if house.littered_share is None else _FLOOR_KEY
        line = self.shared_out(
            "litter", littered_m2 and littered_m2 * 10_000, "house", key, where=_share_text(share)
        )
        if not norm.one_part_in or line.verdict is Verdict.NOT_CHECKED:
            return line
        part = f"1/{norm.one_part_in} of the floor"
        if share is None:
            say = f"Whether that is {part} is not known: add {_FLOOR_KEY} under [house]."
            verdict = line.verdict if line.verdict is Verdict.FAIL else Verdict.NOT_CHECKED
        elif share * norm.one_part_in < 1 - ROUNDING:
            say, verdict = f"That is less than {part}.", Verdict.FAIL
        else:
            return line
        return replace(line, verdict=verdict, notes=(say, *line.notes))

    def vents(self) -> Line:
        """Return the line of the vents, for which there is no norm."""
        given = self.house.vents_area_cm2
        values = () if given is None else (given,)
        found = self.measures.amount(values, "cm2", GIVEN_FIGURES) if values else ""
        return Line("vents", Verdict.NOT_CHECKED, found=found, values=values, notes=(_AIR,))


def _no_figure(norm: Norm, size: str | None) -> str:
    """Return why a norm by size has no figure for the birds, and what to do."""
    if size is None:
        return f"{norm.name} goes by size: add size under [flock]."
    return f"{norm.name} gives no figure for {size} birds: choose another under [norms]."


def _missing(*facts: tuple[str, str, object]) -> tuple[str, ...]:
    """Return what to add to the file, as one note; none if nothing is missing."""
    adds = [f"{key} under [{table}]" for key, table, value in facts if value is None]
    return (f"Add {listed(adds)}.",) if adds else ()


def _share_text(share: float | None) -> str:
    """Return which share of the floor is littered, after its area."""
    if share is None:
        return ""
    return ", the whole floor" if share == 1 else f", {share * 100:.3g} % of the floor"


def _count(count: int, what: str) -> str:
    return f"{count or 'no'} {what}{'' if count == 1 else 's'}"
