"""Files of light: what is read of them, and what is said of those that cannot be used."""

from __future__ import annotations

from calendar import month_abbr, monthrange
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.door.power.light.light_file import MonthlyLight, read_light
from daylatch.door.power.light.light_rows import LightFileError
from daylatch.door.power.light.typical_year import TypicalYear
from door.power.measured import TYPICAL_YEAR, hours, typical_year

TEXT = TYPICAL_YEAR.read_text()
HEAD = "Latitude (decimal degrees):\t52.100\nLongitude (decimal degrees):\t5.200\n"


def months_text(columns="H(h)_m\tH(i)_m\tKd\tT2m", angle=60, years=(2019, 2020), head=HEAD):
    """A file of months, each day of which has the month's number / 10 [kWh/m²] on the level."""
    lines = [head + f"Selected angle: {angle} deg.\n", f"year\tmonth\t{columns}"]
    for year in years:
        for month in range(1, 13):
            days = monthrange(year, month)[1]
            values = {
                "H(h)_m": days * month / 10,
                "H(i)_m": days * (month / 10 + 1),
                "Kd": 0.4 + month / 100,
                "T2m": month + (year - 2019),
            }
            cells = "\t".join(f"{values[name]:.3f}" for name in columns.split("\t"))
            lines.append(f"{year}\t{month_abbr[month]}\t{cells}")
    return "\n".join([*lines, "", "H(h)_m: Irradiation on horizontal plane (kWh/m2/mo)"])


def test_a_typical_year_is_read_hour_by_hour():
    year = typical_year()
    assert isinstance(year, TypicalYear)
    assert year.place == (45.0, 8.0)
    assert len(year.instants_utc) == 8760
    # 0.1761 h after the stamp: 10 min 34 s.
    assert str(year.instants_utc[0]) == "2027-01-01T00:10:34"
    theirs = hours()
    assert year.level == pytest.approx(theirs["G(h)"].clip(lower=0).to_numpy())
    assert year.beam_normal == pytest.approx(theirs["Gb(n)"].clip(lower=0).to_numpy())
    assert year.diffuse == pytest.approx(theirs["Gd(h)"].clip(lower=0).to_numpy())
    assert year.temperature_c == pytest.approx(theirs["T2m"].to_numpy())


def test_a_typical_year_may_have_a_leap_day_other_columns_and_other_line_ends():
    lines = TEXT.splitlines()
    place = next(n for n, line in enumerate(lines) if line.startswith("20070228:2300"))
    leap = [f"20080229:{hour:02d}00,1,2,3,4" for hour in range(24)]
    found = read_light(
        "\ufeff" + "\r\n".join([*lines[: place + 1], *leap, *lines[place + 1 :]]), 0, 0
    )
    assert np.array_equal(found.level, typical_year().level)


def test_without_an_offset_values_hold_for_the_middle_of_their_hour():
    found = read_light(TEXT.replace("Irradiance Time Offset (h): 0.1761\n", ""), 0, 0)
    assert str(found.instants_utc[0]) == "2027-01-01T00:30:00"


def test_months_are_read_as_means_of_years():
    found = read_light(months_text(), 30, 180)
    assert isinstance(found, MonthlyLight)
    assert found.level == pytest.approx(np.arange(1, 13) / 10)
    assert found.diffuse_share == pytest.approx(0.4 + np.arange(1, 13) / 100)
    assert found.temperature_c == pytest.approx(np.arange(1, 13) + 0.5)
    assert found.place == (52.1, 5.2)
    # Its own plane is tilted 60°, and the panel 30°.
    assert found.plane is None


@pytest.mark.parametrize(
    ("tilt", "azimuth", "own"),
    [(60, 180, True), (60.4, 180, True), (60, 170, False), (59, 180, False), (60, 0, False)],
)
def test_light_on_the_files_plane_counts_if_the_panel_stands_so(tilt, azimuth, own):
    found = read_light(months_text(), tilt, azimuth)
    assert (found.plane is not None) is own
    if own:
        assert found.plane == pytest.approx(np.arange(1, 13) / 10 + 1)


def test_in_the_south_a_files_plane_faces_north():
    text = months_text(head=HEAD.replace("52.100", "-35.000"))
    assert read_light(text, 60, 0).plane is not None
    assert read_light(text, 60, 180).plane is None


def test_months_may_have_blank_columns_between_and_fewer_columns():
    found = read_light(months_text("H(h)_m").replace("\t", "\t\t"), 0, 0)
    assert found.level == pytest.approx(np.arange(1, 13) / 10)
    assert (found.diffuse_share, found.temperature_c, found.plane) == (None, None, None)


BAD = {
    "nothing": ("", "is in no form that is known here"),
    "other": ("date,sun\n2027-01-01,5\n", "is in no form that is known here"),
    "JSON": ('{"outputs": {}}', "is JSON"),
    "series": ("time,Gb(i),Gd(i)\n20160101:0010,0,0\n", "is an hourly series and no typical year"),
    "column": (TEXT.replace("Gd(h)\n", "Gd\n", 1), "line 18 has no column Gd(h)"),
    "short": (TEXT[: len(TEXT) // 2], "hours, and a typical year has 8760"),
    "hour lost": (TEXT.replace("20180101:0300", "20180101:0200"), "a typical year has 8760"),
    "no such time": (TEXT.replace("20180101:0300", "20189901:0300"), "holds a time that is none"),
    "word": (TEXT.replace("20180101:0300,1.85", "20180101:0300,cold"), 'line 22: T2m is "cold"'),
    "too bright": (
        TEXT.replace("20180101:0300,1.85,0.0", "20180101:0300,1.85,99999"),
        'line 22: G(h) is "99999", and must be a number from -10 to 2000',
    ),
    "nan": (TEXT.replace("20180101:0300,1.85,0.0", "20180101:0300,1.85,nan"), 'G(h) is "nan"'),
    "cell lost": (TEXT.replace("20180101:0300,1.85,0.0,-0.0,0.0", "20180101:0300,1.85"), 'is ""'),
    "month lost": (months_text().replace("\tMar\t", "\tMer\t"), "has no row for Mar"),
    "month bad": (months_text().replace("3.100", "NA", 1), 'H(h)_m is "NA"'),
    "other plane": (months_text("H(i)_m"), "has light on a plane tilted 60°"),
    "unknown plane": (
        months_text("H(i)_m").replace("Selected angle", "Something"),
        "has light on a plane that it does not name",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_used_is_said(name):
    text, said = BAD[name]
    with pytest.raises(LightFileError, match=r"get |save ") as caught:
        read_light(text, 30, 180)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.text(max_size=300), st.sampled_from([TEXT[:900], months_text()[:400], ""]))
def test_any_text_is_read_or_refused_with_a_message(text, before):
    with suppress(LightFileError):
        read_light(before + text, 30, 180)
