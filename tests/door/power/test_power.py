"""A door's power as a whole: what it draws, and what is found for invented houses."""

from __future__ import annotations

import csv
import io
import json
import re
from calendar import month_name
from dataclasses import replace

import numpy as np
import pytest

from daylatch.door.power import csv as power_csv
from daylatch.door.power import json as power_json
from daylatch.door.power import text as power_text
from daylatch.door.power.faults import faces_away, missing, too_bright
from daylatch.door.power.light.on_panel import Source
from daylatch.door.power.make import make_power, stand_of
from daylatch.door.power.notes import notes
from daylatch.door.power.power import Seen
from daylatch.door.power.sizing import rounded_down, rounded_up
from daylatch.door.power.words import verdict, would_do
from daylatch.paper.pictures import svg
from daylatch.paper.pictures.power import draw_power
from daylatch.plan.due import exactly
from door.power.measured import typical_year
from door.power.test_reference import Ring
from sites import LONGYEARBYEN, UTRECHT, Spot, plan, site

LOAD = "[load]\nvoltage_v = 12\ncurrent_a = 0.6\nmovement_s = 20\nstandby_ma = 3\n"
BATTERY = '[battery]\nkind = "lead"\ncapacity_wh = 84\n'
LEVEL = "horizontal_kwh_m2_day = [0.6, 1.2, 2.5, 4.0, 5.0, 5.3, 5.1, 4.3, 3.0, 1.7, 0.8, 0.5]\n"
PANEL = f"[panel]\nwatts = 5\ntilt = 60\n{LEVEL}"
SHUT = "[[span]]\nfrom = 2027-01-10\nuntil = 2027-01-19\nshut = true\n"
ADELAIDE = Spot(-35.0, 138.6, "Australia/Adelaide")


def power(settings, first="2026-11-27", last="2027-11-26", spot=UTRECHT, skyline=None, **more):
    due = exactly(plan(spot, first, last, settings))
    stand = stand_of(due.plan.site)
    return make_power(due, stand and stand.with_skyline(skyline), **more)


def test_a_movement_takes_current_times_voltage_times_time():
    found = power(BATTERY + LOAD).demand
    assert found.movement_wh == pytest.approx(12 * 0.6 * 20 / 3600)
    assert found.standby_wh == pytest.approx(12 * 0.003 * 24)
    assert found.radio_wh == 0
    assert found.wanted_wh[0] == pytest.approx(2 * 0.04 + 0.864)


def test_a_radio_counts_while_it_is_on():
    found = power(f"{BATTERY}{LOAD}radio_ma = 100\nradio_min_day = 6\n").demand
    assert found.radio_wh == pytest.approx(12 * 0.1 * 0.1)


def test_days_on_which_the_door_stays_shut_have_no_movement():
    found = power(BATTERY + LOAD + SHUT)
    shut = (found.dates >= np.datetime64("2027-01-10")) & (
        found.dates <= np.datetime64("2027-01-19")
    )
    assert found.demand.movements[shut].tolist() == [0] * 10
    assert set(found.demand.movements[~shut].tolist()) == {2}
    assert found.wanted[shut] == pytest.approx(np.full(10, 0.864))


def test_a_second_pass_opens_and_closes_once_more():
    again = "[head_count]\nsecond_pass = true\n"
    assert set(power(BATTERY + LOAD + again).demand.movements.tolist()) == {4}


def test_the_batterys_voltage_is_that_of_the_load_if_none_is_given():
    battery = "[battery]\ncapacity_ah = 7\nvoltage_v = 12\n"
    found = power(battery + LOAD.replace("voltage_v = 12\n", ""))
    assert found.store.full_wh == 84
    assert found.demand.movement_wh == pytest.approx(0.04)


@pytest.mark.parametrize(
    ("settings", "source"),
    [
        ("[panel]\nwatts = 5\ntilt = 60\n", Source.CLEAR_SKY),
        (PANEL, Source.HORIZONTAL),
        (PANEL.replace("horizontal", "plane"), Source.PLANE),
    ],
)
def test_light_comes_from_what_the_keeper_gave(settings, source):
    assert power(settings + BATTERY + LOAD).light.source is source


def test_a_typical_year_brings_its_own_temperature_and_frost():
    spot = Spot(45.0, 8.0, "Europe/Rome")
    lithium = BATTERY.replace("lead", "lithium ion")
    found = {
        kind: power(PANEL.replace(LEVEL, "") + battery + LOAD, spot=spot, light_file=typical_year())
        for kind, battery in (("lead", BATTERY), ("lithium", lithium))
    }
    assert found["lead"].light.source is Source.TYPICAL_YEAR
    january = found["lead"].dates.astype("datetime64[M]") == np.datetime64("2027-01")
    assert found["lithium"].brought[january].sum() < found["lead"].brought[january].sum()
    july = found["lead"].dates.astype("datetime64[M]") == np.datetime64("2027-07")
    assert found["lithium"].brought[july] == pytest.approx(found["lead"].brought[july])
    assert found["lead"].temperature_c.min() < 2


def test_a_gap_in_a_typical_year_is_told():
    spot = Spot(45.0, 8.0, "Europe/Rome")
    settings = PANEL.replace(LEVEL, "") + BATTERY + LOAD
    text = power_text.render(power(settings, spot=spot, light_file=typical_year())).decode()
    # The file of this place has no light on 17 and 18 May.
    assert (
        "none at all on 2 days on which the Sun is up, a gap in it that is taken as it stands: "
        "2027-05-17 to 2027-05-18"
    ) in " ".join(text.split())


def test_the_keepers_temperature_goes_before_that_of_the_file():
    spot = Spot(45.0, 8.0, "Europe/Rome")
    warm = f"{BATTERY.replace('lead', 'lithium ion')}temperature_c = {[10] * 12}\n"
    found = power(PANEL.replace(LEVEL, "") + warm + LOAD, spot=spot, light_file=typical_year())
    assert set(found.temperature_c.tolist()) == {10}
    assert not found.frozen.any()
    assert found.per_watt.sum() == pytest.approx(found.light.low.sum() * 0.75)


def test_lithium_is_not_charged_in_months_of_frost():
    cold = "temperature_c = [-3, -1, 2, 5, 9, 12, 15, 15, 11, 7, 3, -2]\n"
    found = power(PANEL + BATTERY.replace("lead", "lithium iron phosphate") + cold + LOAD)
    months = {str(date)[5:7] for date in found.dates[found.frozen]}
    assert months == {"01", "02", "12"}
    assert not found.course.stored_wh[found.frozen].any()
    lead = power(PANEL + BATTERY + cold + LOAD)
    assert not lead.frozen.any()


def test_a_skyline_leaves_less():
    bare, hills = (power(PANEL + BATTERY + LOAD, skyline=one) for one in (None, Ring(15)))
    assert hills.brought.sum() < bare.brought.sum()
    assert hills.course.charge_wh.min() <= bare.course.charge_wh.min()


def test_the_charge_on_each_date_is_that_which_is_shown_as_lowest():
    found = power(PANEL + BATTERY + LOAD.replace("= 3", "= 9"))
    row = found.lowest
    assert found.course.charge_wh[row] == found.course.charge_wh.min()
    assert found.days_without_sun == found.lasts_days.min()
    assert f"on {found.dates[row]}" in verdict(found) or found.stops.any()


def test_more_standby_never_makes_it_last_longer():
    lows = []
    for standby in (1, 3, 9, 20):
        found = power(PANEL + BATTERY + LOAD.replace("standby_ma = 3", f"standby_ma = {standby}"))
        lows.append((found.course.charge_wh.min(), found.days_without_sun, -int(found.stops.sum())))
    assert lows == sorted(lows, reverse=True)


def test_in_the_south_the_worst_season_is_june():
    flat = PANEL.replace(LEVEL, "").replace("tilt = 60", "tilt = 0")
    settings = flat + BATTERY + LOAD.replace("= 3", "= 40")
    found = power(settings, spot=ADELAIDE)
    assert str(found.dates[found.lowest])[5:7] in {"05", "06", "07", "08"}


def test_there_is_nothing_to_charge_with_in_the_polar_night():
    fallbacks = '[open]\nfallback = "05:30"\ndark_fallback = "09:00"\n'
    fallbacks += '[close]\nfallback = "22:30"\ndark_fallback = "15:00"\n'
    found = power(fallbacks + PANEL.replace(LEVEL, "") + BATTERY + LOAD, spot=LONGYEARBYEN)
    december = found.dates.astype("datetime64[M]") == np.datetime64("2026-12")
    assert found.brought[december].tolist() == [0] * 31
    assert "None" not in power_text.render(found).decode()


# --- Words -------------------------------------------------------------------------------------

CELLS = '[battery]\nkind = "alkaline"\ncells = 4\ncell = "AA"\n'
SMALL_LOAD = LOAD.replace("12", "6").replace("= 3", "= 0.5")


def test_cells_last_until_a_date():
    """4 x 3 Wh, of which the cold takes 16 % and 20 % of the rest are left: 0.112 Wh a day."""
    found = power(CELLS + SMALL_LOAD)
    # (12 - 3.936) / (0.112 + about 0.001 of self-discharge)
    assert verdict(found) == (
        "Nothing charges the battery: 4 AA cells work the door until 2027-02-05 (71 days)"
    )
    assert 70 <= 8.064 / 0.112 <= 73
    assert found.stops[found.dates > found.until].all()
    assert not found.stops[found.dates <= found.until].any()
    alone = found.sizing.alone_wh
    again = power(f'[battery]\nkind = "alkaline"\ncapacity_wh = {alone * 1.001}\n{SMALL_LOAD}')
    assert not again.stops.any()


def test_a_battery_that_cannot_work_the_door_for_a_day_is_said_so():
    found = power(f"{BATTERY}starts = 0.3\n{LOAD}")
    assert "cannot work the door for a single day" in verdict(found)


def test_a_large_battery_is_not_counted_for_ever():
    found = power("[battery]\ncapacity_wh = 100000\nself_discharge_month = 0\n" + LOAD)
    assert verdict(found).endswith("for over 765 days, past 2027-11-26")
    assert found.until is None
    assert "over 400 days" in power_text.render(found).decode()


def test_what_would_do_does():
    poor = PANEL + BATTERY + LOAD.replace("= 3", "= 11")
    found = power(poor)
    assert found.stops.any()
    assert verdict(found).startswith("The door stops on 20")
    wh, watts = found.sizing.pair
    better = power(poor.replace("watts = 5", f"watts = {watts * 1.001}").replace("= 84", f"= {wh}"))
    assert not better.stops.any()
    assert better.days_without_sun >= 10
    battery = power(poor.replace("= 84", f"= {found.sizing.battery_wh * 1.001}"))
    assert not battery.stops.any()
    assert battery.days_without_sun >= 10
    assert any("a battery of" in text for text in would_do(found))


@pytest.mark.parametrize(
    ("first", "last"),
    [("2026-07-01", "2027-06-30"), ("2026-12-01", "2026-12-31"), ("2027-05-05", "2028-01-31")],
)
@pytest.mark.parametrize("span", ["", SHUT.replace("2027-01-19", "2027-02-28")])
def test_what_would_do_hangs_neither_on_the_dates_nor_on_a_door_that_is_shut_once(
    first, last, span
):
    poor = PANEL + BATTERY + LOAD.replace("= 3", "= 11")
    asked = power(poor + span, first, last).sizing
    year = power(poor).sizing
    assert asked.panel_w == pytest.approx(year.panel_w)
    assert asked.battery_wh == pytest.approx(year.battery_wh)
    assert asked.pair == pytest.approx(year.pair)


def test_no_size_is_told_by_a_cloudless_sky():
    found = power(PANEL.replace(LEVEL, "") + BATTERY + LOAD)
    assert found.light.is_bound
    assert (found.sizing.panel_w, found.sizing.battery_wh, found.sizing.pair) == (None, None, None)
    words = " ".join([verdict(found), *would_do(found)])
    assert "by a cloudless sky, an upper bound" in words
    assert "no size is told by a cloudless sky" in words
    assert "a panel of" not in words
    assert json.loads(power_json.render(found))["would_do"]["panel_w"] is None


def test_a_battery_that_runs_down_from_year_to_year_is_told():
    large = BATTERY.replace("= 84", "= 700")
    small = PANEL.replace("watts = 5", "watts = 0.6")
    found = power(small + large + LOAD, "2026-07-01", "2027-06-30")
    assert not found.stops.any()
    assert found.runs_down
    assert "but runs down: it ends at" in verdict(found)
    # Where it only began fuller than it ever is then, it does not.
    for first in ("2026-07-01", "2027-01-01", "2027-03-10"):
        last = (np.datetime64(first) + 364).item().isoformat()
        assert not power(PANEL + BATTERY + LOAD.replace("= 3", "= 6"), first, last).runs_down


@pytest.mark.parametrize("kind", ["lead", "nickel metal hydride"])
@pytest.mark.parametrize("watts", [2.2, 4])
def test_sizes_as_they_are_told_do_in_a_leap_winter_too(kind, watts):
    poor = PANEL.replace("watts = 5", f"watts = {watts}") + BATTERY.replace("lead", kind) + LOAD
    found = power(poor).sizing
    sizes = [(watts, rounded_up(found.battery_wh))] if found.battery_wh else []
    if found.battery_most_wh:
        sizes.append((watts, rounded_down(found.battery_most_wh)))
    sizes.append((rounded_up(found.pair[1]), found.pair[0]))
    if found.panel_w:
        sizes.append((rounded_up(found.panel_w), 84))
    for first, last in (("2026-07-01", "2029-06-30"), ("2027-07-01", "2030-06-30")):
        for panel_w, battery_wh in sizes:
            settings = poor.replace(f"watts = {watts}", f"watts = {panel_w}")
            again = power(settings.replace("= 84", f"= {battery_wh}"), first, last)
            assert not again.stops.any()
            assert again.days_without_sun >= 10


def test_what_brings_nothing_for_another_reason_is_not_called_frost():
    dark = PANEL.replace(LEVEL, f"horizontal_kwh_m2_day = {[0.0] * 12}\n")
    found = power(dark + BATTERY + LOAD)
    assert not found.frozen.any()
    assert "below 0" not in " ".join([verdict(found), *would_do(found)])


def test_a_flat_panel_is_told_of_another_tilt_and_a_steep_one_is_not():
    flat = " ".join(notes(power(PANEL.replace("tilt = 60", "tilt = 0") + BATTERY + LOAD)))
    assert re.search(
        r"tilted \d\d° the panel would get [\d.]+ times as much of a clear December", flat
    )
    assert "no snow stays on it" in flat
    assert "tilted" not in " ".join(notes(power(PANEL + BATTERY + LOAD)))


def test_lithium_near_frost_is_told_that_a_mean_hides_nights():
    mild = "temperature_c = [1, 2, 5, 8, 12, 15, 17, 17, 14, 10, 6, -1]\n"
    lithium = BATTERY.replace("lead", "lithium iron phosphate") + mild
    told = " ".join(notes(power(PANEL + lithium + LOAD)))
    assert "the mean of January and February is just above 0 °C" in told
    assert "just above" not in " ".join(notes(power(PANEL + BATTERY + mild + LOAD)))


def test_short_dates_say_that_winter_is_not_among_them():
    text = power_text.render(power(PANEL + BATTERY + LOAD, "2027-06-01", "2027-06-30")).decode()
    assert "the darkest month here is December, which is not among these dates" in " ".join(
        text.split()
    )


@pytest.mark.parametrize(
    "settings",
    [
        PANEL + BATTERY + LOAD,
        PANEL.replace(LEVEL, "") + BATTERY + LOAD,
        PANEL + BATTERY.replace("lead", "lithium ion") + LOAD.replace("= 3", "= 30"),
        CELLS + SMALL_LOAD,
        PANEL.replace("watts = 5\n", "") + BATTERY + LOAD,
    ],
)
@pytest.mark.parametrize(
    ("first", "last"),
    [("2026-11-27", "2027-11-26"), ("2027-02-28", "2027-03-01"), ("2027-01-05", "2027-01-05")],
)
def test_every_text_is_whole(settings, first, last):
    text = power_text.render(power(settings, first, last)).decode()
    assert max(map(len, text.splitlines())) <= 80
    assert "None" not in text
    assert "nan" not in text
    assert "inf" not in text.split()
    assert text.count("licensed practitioner") == 2
    assert power_text.wrote(text.encode())


# --- Forms -------------------------------------------------------------------------------------


def test_the_csv_balances_and_is_what_the_json_says():
    found = power(PANEL + BATTERY + LOAD.replace("= 3", "= 9"))
    rows = list(csv.DictReader(io.StringIO(power_csv.render(found).decode())))
    data = json.loads(power_json.render(found))
    assert len(rows) == len(data["days"]) == 365
    charge = 84.0
    for row, day in zip(rows, data["days"], strict=True):
        charge += float(row["stored_wh"]) - float(row["out_wh"]) - float(row["lost_wh"])
        assert float(row["charge_wh"]) == pytest.approx(charge, abs=0.03)
        assert day["date"] == row["date"]
        assert day["charge_wh"] == pytest.approx(float(row["charge_wh"]), abs=6e-4)
        assert day["days_without_sun"] == int(row["days_without_sun"])
        assert (row["works"] == "yes") is day["works"]
    assert data["days_without_work"] == sum(row["works"] == "no" for row in rows)
    lowest = min(data["days"], key=lambda day: day["charge_wh"])
    assert data["lowest"] == {"date": lowest["date"], "charge_wh": lowest["charge_wh"]}
    assert data["days_without_sun"] == min(day["days_without_sun"] for day in data["days"])
    assert "must" not in data["caution"]
    assert "Never charge alkaline cells" in data["caution"]
    assert power_csv.wrote(power_csv.render(found))
    assert power_json.wrote(power_json.render(found))


def test_the_json_has_months_with_light_on_the_plane():
    data = json.loads(power_json.render(power(PANEL + BATTERY + LOAD, "2027-01-01", "2027-12-31")))
    assert [month["month"] for month in data["months"]] == [f"2027-{n:02d}" for n in range(1, 13)]
    low = [month["plane_kwh_m2_day"] for month in data["months"]]
    high = [month["plane_high_kwh_m2_day"] for month in data["months"]]
    assert all(one <= other for one, other in zip(low, high, strict=True))
    assert data["light"] == "horizontal"
    for month in data["months"]:
        assert month["in_wh_day"] == pytest.approx(5 * 0.75 * month["plane_kwh_m2_day"], abs=1e-3)


def test_voltages_from_the_diary_are_in_text_and_json():
    seen = Seen(
        np.array(["2026-12-01T08:00:00", "2027-01-05T08:00:00"], "datetime64[s]"),
        np.array([12.6, 12.1]),
    )
    found = power(PANEL + BATTERY + LOAD, seen=seen)
    text = " ".join(power_text.render(found).decode().split())
    assert "the diary has 2 voltages, the lowest 12.1 V, the last 12.1 V (2027-01-05 09:00)" in text
    assert json.loads(power_json.render(found))["seen"] == [
        {"instant": "2026-12-01T08:00:00Z", "volts": 12.6},
        {"instant": "2027-01-05T08:00:00Z", "volts": 12.1},
    ]


@pytest.mark.parametrize("with_volts", [True, False])
@pytest.mark.parametrize(
    "settings", [PANEL + BATTERY + LOAD.replace("= 3", "= 11"), CELLS + SMALL_LOAD]
)
def test_the_picture_shows_it(settings, with_volts):
    found = power(settings)
    if with_volts:
        instants = np.array(["2026-12-01T08:00:00"], "datetime64[s]")
        found = replace(found, seen=Seen(instants, np.array([12.6])))
    drawn = svg.render(draw_power(found)).decode()
    assert 'id="charge"' in drawn
    assert ('id="stopped"' in drawn) is bool(found.stops.any())
    assert verdict(found) in drawn
    plain = svg.render(draw_power(replace(found, seen=power(settings).seen))).decode()
    assert (drawn != plain) is with_volts


# --- What cannot be ----------------------------------------------------------------------------


def faults(settings):
    return [
        (".".join(fault.path), fault.found, fault.remedy)
        for fault in missing(site(UTRECHT, settings).settings)
    ]


@pytest.mark.parametrize(
    ("settings", "key", "found", "remedy"),
    [
        (BATTERY, "load", "", "add [load]"),
        (LOAD, "battery", "", "add [battery]"),
        (
            BATTERY + "[load]\nvoltage_v = 12\nmovement_s = 20\nstandby_ma = 1\n",
            "load.current_a",
            "",
            "write current_a = 0.6",
        ),
        (
            BATTERY + "[load]\nvoltage_v = 12\ncurrent_a = 1\nstandby_ma = 1\n",
            "load.movement_s",
            "",
            "write movement_s = 20",
        ),
        (
            BATTERY + "[load]\ncurrent_a = 1\nmovement_s = 9\nstandby_ma = 1\n",
            "load.voltage_v",
            "",
            "write voltage_v = 12",
        ),
        (f"{BATTERY}{LOAD}radio_ma = 90\n", "load.radio_ma", "90", "needs radio_min_day"),
        (f"{BATTERY}{LOAD}radio_min_day = 9\n", "load.radio_min_day", "9", "needs radio_ma"),
        (
            "[battery]\nlow_v = 11.8\n" + LOAD,
            "battery.capacity_wh",
            "",
            "say what the battery holds",
        ),
        ("[battery]\ncapacity_ah = 7\n" + LOAD, "battery.capacity_ah", "7", "needs voltage_v"),
        ("[battery]\ncells = 4\n" + LOAD, "battery.cells", "4", 'cell = "AA"'),
        ('[battery]\ncell = "C"\n' + LOAD, "battery.cell", '"C"', "cells = 4"),
        (BATTERY + LOAD + "[panel]\nwatts = 5\n", "panel.tilt", "", "how steep it stands"),
        (CELLS + LOAD + PANEL, "battery.kind", '"alkaline"', "must never be charged"),
    ],
)
def test_what_is_missing_is_named_with_its_remedy(settings, key, found, remedy):
    assert [(one, value) for one, value, _ in faults(settings)] == [(key, found)]
    assert remedy in faults(settings)[0][2]


def test_nothing_is_missing_of_whole_tables():
    assert faults(PANEL + BATTERY + LOAD) == []
    assert faults(CELLS + LOAD) == []


def bright(key, values):
    settings = f"[panel]\nwatts = 5\ntilt = 60\n{key} = {values}\n"
    place = site(UTRECHT, settings)
    return [fault.remedy for fault in too_bright(place.settings.panel, stand_of(place))]


TRUE_LEVEL = [0.6, 1.2, 2.5, 4.0, 5.0, 5.3, 5.1, 4.3, 3.0, 1.7, 0.8, 0.5]
TRUE_PLANE = [1.1, 1.9, 3.2, 4.3, 4.6, 4.6, 4.5, 4.3, 3.6, 2.6, 1.4, 1.0]


@pytest.mark.parametrize(
    ("key", "values"), [("horizontal_kwh_m2_day", TRUE_LEVEL), ("plane_kwh_m2_day", TRUE_PLANE)]
)
def test_a_table_in_other_units_is_told_with_both_readings(key, values):
    assert bright(key, values) == []
    (megajoules,) = bright(key, [round(value * 3.6, 2) for value in values])
    assert "in MJ/m² a day, that is" in megajoules
    assert "in kWh/m² a month" in megajoules
    days = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    (monthly,) = bright(
        key, [round(value * count, 1) for value, count in zip(values, days, strict=True)]
    )
    assert "write kWh/m² a day" in monthly


def test_the_reading_that_is_meant_is_the_true_value():
    values = [round(value * 3.6, 3) for value in TRUE_LEVEL]
    settings = f"[panel]\nwatts = 5\ntilt = 60\nhorizontal_kwh_m2_day = {values}\n"
    place = site(UTRECHT, settings)
    (fault,) = too_bright(place.settings.panel, stand_of(place))
    value, _, month = fault.found.partition(" in ")
    number = list(month_name).index(month) - 1
    assert f"that is {TRUE_LEVEL[number]:.2f}" in fault.remedy
    assert float(value) == values[number]


@pytest.mark.parametrize(
    ("spot", "azimuth", "away"),
    [
        (UTRECHT, 180, False),
        (UTRECHT, 0, True),
        (UTRECHT, 20, True),
        (UTRECHT, 90, False),
        (UTRECHT, 270, False),
        (ADELAIDE, 0, False),
        (ADELAIDE, 180, True),
    ],
)
def test_a_panel_that_faces_away_from_the_sun_is_noticed(spot, azimuth, away):
    place = site(spot, f"[panel]\nwatts = 5\ntilt = 60\nazimuth = {azimuth}\n")
    found = list(faces_away(stand_of(place)))
    assert bool(found) is away
    if away:
        assert "counted from south, add 180" in found[0].remedy


def test_a_flat_panel_faces_nowhere():
    place = site(UTRECHT, "[panel]\nwatts = 5\ntilt = 0\nazimuth = 0\n")
    assert list(faces_away(stand_of(place))) == []
