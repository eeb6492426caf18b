import re
from dataclasses import replace

import numpy as np
import pytest

from dyewright.sheets.charts import Theme, ink_of
from dyewright.sheets.exhaustion import ClearSpan, Now, UptakeCurve, exhaustion_chart

TIMES = np.arange(0.0, 91.0)
MID = 1 - np.exp(-TIMES / 20)
TEAL = UptakeCurve("Teal", MID, MID * 0.9, np.minimum(MID * 1.05, 1), "#2f6f6a")
GREY = UptakeCurve("Grey two", MID * 0.8, MID * 0.7, MID * 0.9)


def texts(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def test_the_chart_names_its_dyes_its_level_and_now_in_words():
    svg = exhaustion_chart(
        TIMES,
        [TEAL, GREY],
        bath_c=40 + 0.5 * TIMES,
        clear_exhaustion=0.97,
        clear=ClearSpan(60.0, 70.0, None),
        readings=[(21.0, 0.6)],
        now=Now(25.0, "now, 25 min"),
    )

    assert {"Teal", "Grey two", "looks clear", "now, 25 min", "bath, °C"} <= set(texts(svg))
    assert "#2f6f6a" in svg.lower()


@pytest.mark.parametrize("theme", list(Theme))
def test_only_the_dye_brings_a_colour(theme):
    svg = exhaustion_chart(TIMES, [TEAL, GREY], bath_c=40 + 0.5 * TIMES, clear_exhaustion=0.97, theme=theme)
    colours = {c.lower() for c in re.findall(r"#[0-9a-fA-F]{6}", svg)} - {"#2f6f6a"}

    assert colours
    assert all(c[1:3] == c[3:5] == c[5:7] for c in colours), colours


def test_the_chart_fetches_and_runs_nothing():
    svg = exhaustion_chart(TIMES, [GREY])

    assert "<script" not in svg
    assert not re.search(
        r"(href|src)=|url\(http|@import", svg.replace('xmlns:xlink="http://www.w3.org/1999/xlink"', "")
    )


def test_the_axis_ends_where_it_is_told_and_now_beyond_it_is_left_out():
    svg = exhaustion_chart(TIMES, [GREY], until_min=45.0, now=Now(60.0, "now, 60 min"))

    assert "now, 60 min" not in texts(svg)
    assert "60" not in texts(svg)
    assert "40" in texts(svg)


def test_the_same_forecast_gives_the_same_drawing():
    first, second = (exhaustion_chart(TIMES, [TEAL]) for _ in range(2))
    assert first == second


def test_at_the_pot_units_stand_at_the_figures_and_one_dye_needs_no_key():
    one = texts(exhaustion_chart(TIMES, [TEAL], is_bare=True, height_px=130))
    two = texts(exhaustion_chart(TIMES, [TEAL, GREY], is_bare=True, height_px=130))

    assert {"0 %", "50 %", "100 %", "30 min", "90 min"} <= set(one)
    assert not [text for text in one + two if "minutes from" in text or "% of the dye" in text]
    assert "Teal" not in one
    assert {"Teal", "Grey two"} <= set(two)


def test_a_line_with_a_colour_of_its_own_needs_no_outline():
    navy = UptakeCurve("Navy", MID, MID * 0.9, MID, "#0a1030", "#6080c0")

    def strokes(curve):
        return re.findall(r'stroke="(#[0-9a-f]{6})"', exhaustion_chart(TIMES, [curve], is_bare=True).lower())

    assert "#6080c0" in strokes(navy)
    assert "#0a1030" not in strokes(navy)


def marks(svg):
    """The fills of the marks of what was seen, whose outline is two pixels wide."""
    return re.findall(r'fill="(#[0-9a-f]{6})" stroke="#[0-9a-f]{6}" stroke-width="2"', svg.lower())


def lines(svg):
    return re.findall(r'<path[^>]* stroke="#', svg)


def test_a_reading_in_doubt_is_hollow_and_the_others_are_full():
    ink = ink_of(Theme.LIGHT)
    svg = exhaustion_chart(TIMES, [GREY], readings=[(20.0, 0.6)], doubted=[(30.0, 0.2)])

    assert sorted(marks(svg)) == sorted([ink.strong.lower(), ink.ground.lower()])


def test_what_was_expected_before_stays_as_an_outline_and_what_bonds_as_a_line_with_its_name():
    before = (TIMES, MID * 0.5, np.minimum(MID * 1.2, 1))
    plain = exhaustion_chart(TIMES, [GREY])
    more = exhaustion_chart(TIMES, [replace(GREY, fixed=MID * 0.8)], before=before)

    assert {"Grey two, bonded", "all dyes, as foretold before"} <= set(texts(more))
    # Two more outlines, the bonded line, and a stroke in the key for each of the two.
    assert len(lines(more)) == len(lines(plain)) + 5
