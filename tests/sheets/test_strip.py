"""The strip of colours over time."""

import re

from dyewright.sheets.strip import colour_strip


def test_colours_lie_edge_to_edge_in_their_order():
    svg = colour_strip(["#102030", "#405060"], ["#ffffff", "#000000"])
    boxes = re.findall(r'<rect x="(\d+)" y="(\d+)" width="([\d.]+)" height="\d+" fill="(#\w+)"', svg)

    assert [(int(x), int(y), fill) for x, y, _, fill in boxes] == [
        (0, 0, "#102030"),
        (1, 0, "#405060"),
        (0, 64, "#ffffff"),
        (1, 64, "#000000"),
    ]
    assert all(float(width) >= 1 for _, _, width, _ in boxes)


def test_it_stretches_and_leaves_its_words_to_the_page():
    svg = colour_strip(["#102030"], ["#ffffff"])

    assert 'preserveAspectRatio="none"' in svg
    assert 'aria-hidden="true"' in svg
    assert not re.search("<text", svg)
