import re

import pytest

from dyewright.sheets.charts import Theme
from dyewright.sheets.happened import happened_chart

T_MIN, BATH_C = [0.0, 40.0, 70.0, 300.0], [40.0, 90.0, 90.0, 40.0]


def test_the_plan_and_the_readings_are_drawn_and_named():
    svg = happened_chart(T_MIN, BATH_C, [(0.0, 41.0), (20.0, 68.0)], until_min=85.0)
    assert svg.startswith("<svg")
    words = re.findall(r">([^<>]+)</text>", svg)
    assert {"planned", "read", "minutes from heat on", "bath, °C"} <= set(words)
    assert "<script" not in svg
    assert 'font-family="Source Sans 3"' in svg


def test_without_readings_only_the_plan_is_drawn():
    words = re.findall(r">([^<>]+)</text>", happened_chart(T_MIN, BATH_C, []))
    assert "planned" in words
    assert "read" not in words


@pytest.mark.parametrize("theme", list(Theme))
def test_only_greys_are_used(theme):
    # The look: every colour but that of dye has R = G = B.
    svg = happened_chart(T_MIN, BATH_C, [(10.0, 50.0)], theme=theme)
    colours = re.findall(r"#([0-9a-fA-F]{6})\b", svg)
    assert colours
    assert all(colour[0:2] == colour[2:4] == colour[4:6] for colour in colours)


def test_readings_beyond_the_drawn_time_are_left_out():
    inside = happened_chart(T_MIN, BATH_C, [(10.0, 55.0)], until_min=60.0)
    beyond = happened_chart(T_MIN, BATH_C, [(10.0, 55.0), (200.0, 5.0)], until_min=60.0)
    assert inside == beyond
