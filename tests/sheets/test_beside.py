"""The chart of two ways: told apart without colour, each over its own minutes."""

import re

import numpy as np

from dyewright.sheets.beside import WayCurve, beside_chart
from dyewright.sheets.charts import Theme

SHORT, LONG = np.arange(0.0, 61.0), np.arange(0.0, 121.0)


def way(name, t_min, colour=None):
    mid = 1 - np.exp(-t_min / 20)
    return WayCurve(name, t_min, mid, mid * 0.9, np.minimum(mid * 1.05, 1), colour)


def dashes(svg):
    return set(re.findall(r'stroke-dasharray="([^"]*)"', svg))


def test_the_second_line_is_dashed_and_both_are_named():
    svg = beside_chart([way("1 Acid", SHORT), way("2 Reactive", LONG)])
    assert {"1 Acid", "2 Reactive"} <= set(re.findall(r"<text[^>]*>([^<]*)</text>", svg))
    alone = dashes(beside_chart([way("1 Acid", SHORT)]))
    assert dashes(svg) - alone
    assert "°C" not in svg  # no temperature is drawn, so none is named


def test_the_axis_reaches_to_the_end_of_the_longer_way():
    svg = beside_chart([way("1 Acid", SHORT), way("2 Reactive", LONG)])
    assert "120" in re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    assert "120" not in re.findall(r"<text[^>]*>([^<]*)</text>", beside_chart([way("1 Acid", SHORT)]))


def test_colour_comes_from_the_dyes_alone():
    svg = beside_chart([way("1", SHORT, "#2f6f6a"), way("2", LONG)], theme=Theme.DIM)
    colours = {code.lower() for code in re.findall(r"#[0-9a-fA-F]{6}", svg)} - {"#2f6f6a"}
    assert colours
    assert all(code[1:3] == code[3:5] == code[5:7] for code in colours)


def test_a_narrow_chart_is_narrower():
    widths = [int(re.search(r'width="(\d+)"', beside_chart([way("1", SHORT)], width_px=px))[1]) for px in (232, 720)]
    assert widths[1] - widths[0] > 400
