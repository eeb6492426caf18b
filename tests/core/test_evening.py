"""Small measures of a swatch evening."""

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyewright.core import evening
from dyewright.errors import InputError


@pytest.mark.parametrize(
    ("dye_g", "strength_g_l"),
    [
        (0.05, 10.0),  # by hand: 5 g at 1 %, 5 mL of 1 %
        (0.005, 10.0),  # 5 g at 0.1 %: 0.5 mL, the least
        (0.0025, 1.0),  # 5 g at 0.05 %: 0.25 mL of 1 %, so 2.5 mL of 0.1 %
        (0.00025, 0.1),  # 5 g at 0.005 %: 0.25 mL of 0.1 %, so 2.5 mL of 0.01 %
        (0.00001, 0.1),  # nothing weaker is made: 0.1 mL of 0.01 %
    ],
)
def test_a_tiny_dose_comes_from_a_weaker_stock(dye_g, strength_g_l):
    assert evening.dose_strength_g_l(dye_g, 10.0) == pytest.approx(strength_g_l)


@pytest.mark.parametrize(  # by hand: marks of 0.1 mL, a half goes up
    ("volume_ml", "drawn_ml"), [(2.5, 2.5), (1.65, 1.7), (1.64, 1.6), (0.02, 0.1), (0.0, 0.0), (15.0, 15.0)]
)
def test_a_syringe_draws_whole_marks(volume_ml, drawn_ml):
    assert evening.drawn_l(volume_ml / 1000) * 1000 == pytest.approx(drawn_ml)


@pytest.mark.parametrize(
    ("taken_ml", "stock_g_l", "scale_g", "volume_l", "powder_g"),
    [
        (60, 10.0, 0.01, 0.1, 1.0),  # by hand: 66 mL with a tenth over, the 100 mL jar; 1 g is 100 steps of 0.01 g
        (95, 10.0, 0.01, 0.25, 2.5),  # 104.5 mL no longer fit 100 mL
        (60, 10.0, 0.1, 0.25, 2.5),  # a scale of 0.1 g weighs 2 g and more to 5 %: 200 mL of 1 %
        (2000, 10.0, 0.01, 2.5, 25.0),  # 2.2 L: the next half litre
    ],
)
def test_a_stock_is_enough_and_its_powder_can_be_weighed(taken_ml, stock_g_l, scale_g, volume_l, powder_g):
    made = evening.stock_to_mix(taken_ml / 1000, stock_g_l, scale_g)

    assert (made.volume_l, made.powder_g) == (pytest.approx(volume_l), pytest.approx(powder_g))


def test_rings_of_jars_need_the_pot_that_geometry_says():
    # n circles in a ring touch their neighbours where the pot is 1 + 1 / sin(pi / n) jars wide; from 7 on there is room
    # for one more in the middle.
    for jars in range(2, 7):
        ratio = 1 + 1 / math.sin(math.pi / jars)
        assert evening.jars_that_fit((ratio + 0.002) * 0.09, 0.09) >= jars
        assert evening.jars_that_fit((ratio - 0.002) * 0.09, 0.09) < jars
    for jars in (8, 9):
        ratio = 1 + 1 / math.sin(math.pi / (jars - 1))
        assert evening.jars_that_fit((ratio + 0.002) * 0.09, 0.09) == jars
        assert evening.jars_that_fit((ratio - 0.002) * 0.09, 0.09) < jars


def test_usual_pots_hold_what_a_dyer_finds_they_hold():
    jar_m = evening.jar_diameter_m(0.5)
    assert jar_m == pytest.approx(0.09)
    assert evening.jars_that_fit(0.08, jar_m) == 0
    assert evening.jars_that_fit(0.28, jar_m) == 7  # by hand: 3.11 jars wide, six round one is 3
    assert evening.jars_that_fit(0.32, jar_m) == 8  # 3.56 wide: above 3.305, below 3.614
    assert evening.jars_that_fit(0.36, jar_m) == 11  # 4.00 wide: above 3.924, below 4.030


def test_a_jar_holds_more_than_nothing():
    with pytest.raises(InputError, match="more than 0 L"):
        evening.jar_diameter_m(0.0)


def test_liquor_and_water_bath_stand_as_cylinders_do():
    # by hand: 8.4 cm inside is 55.42 cm2, so 200 mL stand 3.609 cm; a pot of 28 cm (615.75 cm2) less 7 jars of 9 cm
    # (63.617 cm2 each) leaves 170.43 cm2 of water, at 3.609 cm 615 mL.
    height_m = evening.liquor_height_m(0.2, 0.09)
    assert height_m == pytest.approx(0.03609, abs=1e-5)
    assert evening.water_bath_l(height_m, 0.28, 0.09, 7) == pytest.approx(0.615, abs=1e-3)
    assert evening.water_bath_l(height_m, 0.2, 0.09, 7) == 0.0  # no room at all


def test_a_jar_trails_the_bath_by_minutes():
    # by hand: two films of 500 and 3 mm of glass at 1 W/(m K) let in 142.9 W/(m2 K); wetted 55.42 + 95.24 cm2 =
    # 0.015066 m2, so 2.152 W/K against 837.2 J/K: 389 s.
    lag = evening.jar_lag_min(0.2, 0.09)
    assert lag == pytest.approx(6.48, abs=0.02)
    # by hand: at 1 °C a minute 6.48 °C behind, within 2 °C after 6.48 ln(3.24) = 7.62 min
    assert evening.trailing_min(lag, 1.0) == pytest.approx(7.62, abs=0.03)
    assert evening.trailing_min(lag, 0.1) == 0.0


def _box(x, y, w=100, h=80):
    return ((x, y), (x + w, y), (x + w, y + h), (x, y + h))


def test_tags_are_read_row_by_row():
    # two rows laid by hand: the upper one rises to the right, the lower one hangs
    outlines = [_box(300, 210), _box(160, 20), _box(10, 30), _box(20, 190), _box(310, 5), _box(150, 220)]
    assert evening.reading_order(outlines) == (2, 1, 4, 3, 5, 0)


@given(st.permutations(range(8)))
def test_the_order_of_finding_does_not_matter(order):
    grid = [_box(150 * (i % 4), 120 * (i // 4)) for i in range(8)]
    found = evening.reading_order([grid[i] for i in order])
    assert [order[place] for place in found] == list(range(8))


def test_skeins_are_matched_with_jars_in_order():
    # by hand: one skein is missing; the colours say that it is the first jar's
    apart = [[30, 2, 40], [50, 35, 3]]
    assert evening.matched_in_order(apart) == (1, 2)
    # a skein too many: the middle one is no jar
    assert evening.matched_in_order([[1, 30], [60, 60], [30, 2]]) == (0, None, 1)
    # as many as jars: the order stands, whatever the colours say
    assert evening.matched_in_order([[9, 1], [1, 9]]) == (0, 1)
    assert evening.matched_in_order(np.zeros((0, 3))) == ()


@given(st.integers(1, 4), st.integers(1, 5), st.randoms(use_true_random=False))
def test_no_other_order_of_skeins_is_cheaper(skeins, jars, random):
    costs = [[random.uniform(0, 50) for _ in range(jars)] for _ in range(skeins)]
    found = evening.matched_in_order(costs)
    cost = sum(costs[row][column] for row, column in enumerate(found) if column is not None)

    # the other way: every choice of the longer side, tried out
    fewer = min(skeins, jars)
    tried = [
        sum(costs[row][column] for row, column in zip(rows, columns, strict=True))
        for rows in combinations(range(skeins), fewer)
        for columns in combinations(range(jars), fewer)
    ]
    assert cost == pytest.approx(min(tried))
    assert sum(column is not None for column in found) == fewer
