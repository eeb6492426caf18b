import numpy as np
import pytest
from synthetic_shelf import TABLES, base_swatch, invented_curves, ladder_swatches

from dyewright.core.colour import delta_e00
from dyewright.core.matching import Limits, Target, corrected, lightest_reached, nearest
from dyewright.core.mixing import fit_shelf, lab_of_mix, over_yarn, predict
from dyewright.errors import InputError

RNG = np.random.default_rng(31)
SHELF = fit_shelf([base_swatch(RNG, 0.3), *ladder_swatches(RNG, invented_curves(RNG, 6), 0.3)], TABLES)
MIX = np.zeros(6)
MIX[[0, 2, 5]] = 0.004, 0.006, 0.003
GOAL = lab_of_mix(SHELF, MIX, TABLES)
TARGET = Target(tuple(GOAL.tolist()))


def test_a_snip_that_came_out_right_moves_nothing():
    moved = corrected(SHELF, MIX, GOAL, TARGET, TABLES)
    assert moved.depths_owf == pytest.approx(MIX, rel=1e-3)
    assert moved.measured_de00 == pytest.approx(0, abs=1e-9)
    assert moved.moved_de00 < 0.01


def test_a_snip_that_came_out_pale_asks_for_more_of_the_same_dyes():
    pale = lab_of_mix(SHELF, 0.85 * MIX, TABLES)
    moved = corrected(SHELF, MIX, pale, TARGET, TABLES)

    assert np.array_equal(moved.depths_owf > 0, MIX > 0)
    share = moved.depths_owf[MIX > 0] / MIX[MIX > 0]
    # Not by the whole 1 / 0.85 = 1.18: pots of one recipe differ by some 5 % on their own.
    assert np.all((share > 1.0) & (share < 1.18))
    assert moved.measured_de00 == pytest.approx(float(delta_e00(TARGET.lab, pale)))
    assert 0 < moved.unmoved_de00 < moved.measured_de00
    assert moved.moved_de00 < 0.05
    assert moved.band_de00 > 0


def test_a_measured_curve_of_a_snip_does_as_well():
    curve = predict(SHELF, 0.85 * MIX)
    moved = corrected(SHELF, MIX, curve, TARGET, TABLES)
    assert np.all(moved.depths_owf[MIX > 0] > MIX[MIX > 0])


def test_a_snip_of_nothing_or_without_a_colour_is_refused():
    with pytest.raises(InputError, match="no dye in the recipe"):
        corrected(SHELF, np.zeros(6), GOAL, TARGET, TABLES)
    with pytest.raises(InputError, match="its L, a and b"):
        corrected(SHELF, MIX, [50.0, 0.0], TARGET, TABLES)


def test_of_many_recipes_as_near_the_one_at_hand_is_moved_least():
    four = MIX.copy()
    four[3] = 0.002
    goal = Target(tuple((lab_of_mix(SHELF, four, TABLES) + np.array([0.5, 0.3, -0.4])).tolist()))
    moved = nearest(SHELF, four, goal, TABLES)
    assert delta_e00(goal.lab, lab_of_mix(SHELF, moved, TABLES)) < 0.01
    assert np.array_equal(moved > 0, four > 0)
    # ΔE00 of about 0.6 is worth some 5 % of a dose; a recipe found from elsewhere would differ by a multiple.
    assert moved[four > 0] == pytest.approx(four[four > 0], rel=0.3)


def test_a_moved_recipe_keeps_to_what_is_in_stock():
    pale = lab_of_mix(SHELF, 0.8 * MIX, TABLES)
    limits = Limits(most_owf={"dye 2": 0.0061})
    moved = corrected(SHELF, MIX, pale, TARGET, TABLES, limits)
    assert moved.depths_owf[2] <= 0.0061 * (1 + 1e-9)


def test_the_lightest_colour_reached_over_dark_yarn_is_of_the_hue_that_was_meant():
    over = over_yarn(SHELF, predict(SHELF, MIX), "dyed")
    lighter = Target((TARGET.lab[0] + 20, TARGET.lab[1], TARGET.lab[2]))
    found = lightest_reached(over, lighter, TABLES)

    # The yarn itself has this hue and chroma; over it nothing is lighter, and it is itself all but reached.
    assert found is not None
    assert found[0] <= TARGET.lab[0] + 1.5
    assert found[0] > TARGET.lab[0] - 6
    assert np.degrees(np.arctan2(found[2], found[1])) == pytest.approx(
        np.degrees(np.arctan2(TARGET.lab[2], TARGET.lab[1])), abs=0.1
    )


def test_where_no_darker_colour_helps_that_is_said_by_none():
    # A target of a hue that every dye of a shelf of one colour moves away from.
    one = fit_shelf([base_swatch(), *ladder_swatches(RNG, invented_curves(RNG, 1), 0.0)], TABLES)
    away = -np.array(lab_of_mix(one, np.array([0.01]), TABLES))[1:]
    away = 60 * away / np.linalg.norm(away)
    assert lightest_reached(one, Target((50.0, *away.tolist())), TABLES) is None
