import numpy as np
import pytest

from dyewright.core.skeins import depth_inside, inside_outline

X, Y = np.arange(100) + 0.5, np.arange(80) + 0.5


def test_a_box_holds_the_middles_of_its_own_pixels():
    inside = inside_outline([(10, 20), (40, 20), (40, 50), (10, 50)], X, Y)

    assert inside.sum() == 30 * 30  # by hand
    assert inside[20:50, 10:40].all()


def test_the_area_of_a_round_outline_is_that_of_its_circle():
    angle = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    inside = inside_outline(np.stack([50 + 30 * np.cos(angle), 40 + 30 * np.sin(angle)], axis=1), X, Y)

    # by hand: a polygon of 60 corners has 30²·60/2·sin(2π/60) = 2822.2 of the circle's 2827.4
    assert inside.sum() == pytest.approx(2822, rel=0.01)


def test_a_notch_and_a_part_off_the_grid_are_left_out():
    notched = [(0, 0), (60, 0), (60, 60), (30, 30), (0, 60)]
    beyond = [(-50, -50), (20, -50), (20, 30), (-50, 30)]

    assert inside_outline(notched, X, Y).sum() == pytest.approx(60 * 60 - 60 * 30 / 2, rel=0.01)  # by hand
    assert inside_outline(beyond, X, Y).sum() == 20 * 30


def test_depth_grows_from_the_edge_to_the_middle():
    inside = inside_outline([(10, 10), (90, 10), (90, 50), (10, 50)], X, Y)

    depth = depth_inside(inside)

    # a box 40 high: its middle is 20 deep, a place 10 from the edge half of that
    assert depth.max() == 1.0
    assert depth[29, 50] == pytest.approx(1.0, abs=0.05)
    assert depth[20, 50] == pytest.approx(0.5, abs=0.06)
    assert np.all(depth[~inside] == 0)


def test_the_edge_of_the_cut_is_an_edge():
    assert depth_inside(np.ones((50, 50), bool))[0, 25] < 0.1
