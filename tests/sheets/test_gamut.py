import re
import xml.etree.ElementTree as ET

import pytest

from dyewright.sheets.gamut import Axis, Cell, Mark, MarkShape, Stroke, colour_map

ACROSS, UP = Axis(-50, 50, "greener", "redder", (0.0,)), Axis(-50, 50, "bluer", "yellower", (0.0,))
LOOP = [(-20, -20), (20, -20), (20, 20), (-20, 20)]


def drawn(**changes):
    shape = {
        "outlines": [LOOP],
        "cells": [Cell(-20, -20, 40, "#387472")],
        "strokes": [],
        "marks": [Mark(10, -5, "#884422", "wanted", MarkShape.RING)],
        "across": ACROSS,
        "up": UP,
        "width_px": 200,
        "height_px": 200,
        "words": "Colours <of> lightness 50",
    }
    return colour_map(**{**shape, **changes})


def test_a_map_is_one_drawing_with_words_and_no_script():
    tree = ET.fromstring(drawn())  # noqa: S314 - our own drawing
    assert tree.get("role") == "img"
    assert tree.get("aria-label") == "Colours <of> lightness 50"
    assert not [part for part in tree.iter() if part.tag.endswith("script")]
    assert {"greener", "redder", "bluer", "yellower", "wanted"} <= set(tree.itertext())


def test_a_mark_lies_where_its_colour_does():
    # By hand: 200 px over -50 to 50, so a* 10 lies at (10 + 50) · 2 = 120 and b* -5 at (50 + 5) · 2 = 110 from the top.
    assert re.search(r'<circle cx="120\.0" cy="110\.0"', drawn())


def test_a_mark_beyond_the_map_stays_on_it():
    places = re.findall(r'<circle cx="([\d.]+)"', drawn(marks=[Mark(90, 0, "#884422", "far")]))
    assert places
    assert all(0 < float(place) < 200 for place in places)


def test_patches_are_cut_off_at_the_loops_each_loop_by_itself():
    svg = drawn(outlines=[LOOP, LOOP[::-1]])
    clip = svg.split("<clipPath")[1].split("</clipPath>")[0]
    assert clip.count("<path") == 2
    assert 'clip-path="url(#' in svg


@pytest.mark.parametrize(("one", "other"), [(LOOP, LOOP[:3]), (LOOP, [])])
def test_two_maps_on_a_page_do_not_share_their_clip(one, other):
    names = [re.search(r'clipPath id="([^"]+)"', drawn(outlines=[loop] if loop else [])) for loop in (one, other)]
    assert names[0][1] != names[1][1]


def test_the_words_of_marks_side_by_side_do_not_lie_on_each_other():
    svg = drawn(marks=[Mark(0, 0, "#111111", "one"), Mark(1, 0, "#222222", "two")])
    lines = [float(y) for y in re.findall(r'<text x="[\d.]+" y="([\d.]+)" text-anchor="start"[^>]*>(?:one|two)', svg)]
    assert len(lines) == 2
    assert abs(lines[0] - lines[1]) >= 14  # a line of the type


def test_a_line_is_drawn_in_pieces_of_its_colours():
    svg = drawn(outlines=[], cells=[], strokes=[Stroke(((0, 0), (10, 0)), "#387472")])
    assert 'stroke="#387472"' in svg


def test_all_but_the_colours_of_dye_is_neutral():
    greys = set(re.findall(r"#[0-9a-f]{6}", drawn())) - {"#387472", "#884422"}
    assert all(grey[1:3] == grey[3:5] == grey[5:7] for grey in greys)
