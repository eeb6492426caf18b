"""Charts are text in the shipped sans, neutral, and without script."""

import re

import pytest

from dyewright.sheets.charts import Theme, ink_of, temperature_chart

T_MIN = [0.0, 30.0, 60.0, 90.0]
BATH_C = [40.0, 70.0, 85.0, 60.0]


@pytest.fixture(scope="module")
def svg():
    return temperature_chart(T_MIN, BATH_C, [(30.0, "citric acid"), (60.0, "heat off"), (200.0, "never")])


def test_text_stays_text_in_the_shipped_sans(svg):
    assert ">citric acid</text>" in svg
    assert ">minutes from heat on</text>" in svg
    families = set(re.findall(r'font-family="([^"]+)"', svg))
    assert families == {"Source Sans 3"}


def test_nothing_is_fetched_and_no_script_runs(svg):
    assert "<script" not in svg
    assert "@import" not in svg
    assert not re.search(r'href="http|url\(http|src="', svg)


def test_greys_are_neutral(svg):
    colours = re.findall(r"#([0-9a-fA-F]{6})\b", svg)
    assert colours
    assert all(c[0:2] == c[2:4] == c[4:6] for c in colours)
    for theme in Theme:
        ink = ink_of(theme)
        assert all(c[1:3] == c[3:5] == c[5:7] for c in (ink.strong, ink.soft, ink.line, ink.band, ink.ground))


def test_events_outside_the_curve_are_left_out(svg):
    assert "never" not in svg


def test_the_same_input_gives_the_same_chart(svg):
    again = temperature_chart(T_MIN, BATH_C, [(30.0, "citric acid"), (60.0, "heat off"), (200.0, "never")])
    assert again == svg


def test_a_bath_that_keeps_its_temperature_is_drawn_too():
    assert "<svg" in temperature_chart([0.0, 60.0], [30.0, 30.0], theme=Theme.DIM)


def test_the_axis_ends_where_asked():
    long = [0.0, 60.0, 120.0, 180.0]
    assert ">120</text>" in temperature_chart(long, BATH_C)
    assert ">120</text>" not in temperature_chart(long, BATH_C, until_min=60.0)


def test_a_screen_reader_hears_one_sentence(svg):
    assert svg.startswith('<svg role="img" aria-label="Bath temperature: 40 °C at heat on, 85 °C at its hottest')
    assert svg.count("role=") == 1
