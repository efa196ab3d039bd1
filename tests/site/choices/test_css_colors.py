"""Names of colours: the list of CSS 3, and what is said of anything else."""

import pytest
from matplotlib import colors
from PIL import ImageColor

from daylatch.errors import SiteError
from daylatch.site.choices.css_colors import COLOR_NAMES, read_color
from sites import UTRECHT, site


def test_the_list_is_that_of_other_libraries():
    """Theirs are the names of CSS 4, which has one more."""
    assert len(COLOR_NAMES) == 147
    assert set(colors.CSS4_COLORS) - {"rebeccapurple"} == COLOR_NAMES
    assert set(ImageColor.colormap) - {"rebeccapurple"} == COLOR_NAMES


@pytest.mark.parametrize("name", ["seagreen", "SeaGreen", "SEAGREEN", "LightGoldenRodYellow"])
def test_a_name_is_the_same_in_any_case(name):
    assert read_color(name) == name.lower()


@pytest.mark.parametrize(
    ("given", "offer"),
    [
        ('"see green"', "did you mean seagreen"),
        ('"gren"', "did you mean green"),
        ('"light-blue"', "did you mean lightblue"),
        ('"rebeccapurple"', "write a colour by its name in CSS; "),
        ('"#ff0000"', "such as seagreen or gold"),
        ('""', "such as seagreen or gold"),
        ("3", "such as seagreen or gold"),
        ("true", "such as seagreen or gold"),
        ('["red"]', "such as seagreen or gold"),
        ('"red; X-EVIL:1"', "write a colour by its name in CSS; "),
    ],
)
def test_what_is_none_is_refused_with_names_near_it(given, offer):
    with pytest.raises(SiteError) as caught:
        site(UTRECHT, f"[calendar]\ncolor = {given}\n")
    (problem,) = caught.value.problems
    assert (problem.key, problem.line) == ("calendar.color", 9)
    assert problem.remedy.startswith("write a colour by its name in CSS; ")
    assert offer in problem.remedy


@pytest.mark.parametrize("step", ["7", "0", "-15", '"15"', "15.5", "90"])
def test_a_step_that_does_not_divide_an_hour_is_refused(step):
    with pytest.raises(SiteError, match="5, 10, 15, 20, 30 or 60"):
        site(UTRECHT, f"[calendar]\nstep_min = {step}\n")


@pytest.mark.parametrize("written", ["a\\nb", "a\\r\\nBEGIN:VEVENT", "a\\u2028b", "a\\u0000b"])
def test_a_name_of_more_than_a_line_is_refused(written):
    with pytest.raises(SiteError, match=r"name.*take out the invisible character U\+"):
        site(UTRECHT, name=written)
