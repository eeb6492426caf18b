import numpy as np
import pytest
from synthetic_shelf import BASE, TABLES, base_swatch, invented_curves, lab_of, ladder_swatches

from dyewright.core.colour import delta_e00, lab_from_xyz
from dyewright.core.matching import Solutions, Target, Weighing, choose_recipes, search, weighing_p95
from dyewright.core.matching.rank import PRICE_OF_A_DYE, _Candidates
from dyewright.core.mixing import fit_shelf, lab_of_mix, reflectance_from_k_over_s
from dyewright.core.model import Why
from dyewright.errors import NoMatchError

RNG = np.random.default_rng(21)
CURVES = invented_curves(RNG, 7)
SHELF = fit_shelf([base_swatch(with_curve=True), *ladder_swatches(RNG, CURVES, 0.0, with_curve=True)], TABLES)
MIX = np.zeros(7)
MIX[[0, 3, 5]] = 0.004, 0.006, 0.002
CURVE = reflectance_from_k_over_s(BASE + MIX @ CURVES)
MEASURED = Target(tuple(lab_of(BASE + MIX @ CURVES).tolist()), CURVE)
PRICES = {f"dye {dye}": 0.2 + 0.1 * dye for dye in range(7)}


def recipes(target=MEASURED, **how):
    found = search(SHELF, target, TABLES)
    return choose_recipes(SHELF, target, found, TABLES, np.random.default_rng(1), **how)


def vector(recipe):
    depths = np.zeros(7)
    for dye in recipe.dyes:
        depths[SHELF.dyes.index(dye.name)] = dye.depth_percent / 100
    return depths


def test_each_kind_of_best_is_among_the_first_and_the_first_is_one_of_them():
    first, *others = recipes(price_per_g=PRICES)

    kinds = {kind for recipe in (first, *others) for kind in recipe.why}
    assert kinds == {Why.CLOSEST, Why.STEADIEST, Why.FEWEST_DYES, Why.CHEAPEST}
    assert first.why
    closest = min(recipe.de00 for recipe in (first, *others))
    assert first.de00 <= closest + 0.5


def test_what_a_recipe_says_is_true_of_it():
    lamp, white = TABLES.weights["A", 10], TABLES.whites["A", 10]
    for recipe in recipes(price_per_g=PRICES):
        depths = vector(recipe)
        assert recipe.lab == pytest.approx(lab_of_mix(SHELF, depths, TABLES))
        assert recipe.de00 == pytest.approx(float(delta_e00(MEASURED.lab, recipe.lab)), abs=1e-9)
        under_lamp = lab_of_mix(SHELF, depths, TABLES, illuminant="A")
        assert recipe.other_light["A"] == pytest.approx(
            float(delta_e00(lab_from_xyz(CURVE @ lamp, white), under_lamp)), abs=1e-9
        )
        # 1 % of a kilogram is 10 g, at the price of its dye.
        cost = sum(10 * dye.depth_percent * PRICES[dye.name] for dye in recipe.dyes)
        assert recipe.cost_per_kg == pytest.approx(cost)


def test_the_dyes_of_the_target_itself_hold_under_every_light():
    own = [r for r in recipes(best=200) if {d.name for d in r.dyes} == {"dye 0", "dye 3", "dye 5"}]
    assert max(own[0].other_light.values()) < 0.1


def test_the_cheapest_costs_least_of_those_that_are_usable():
    found = recipes(price_per_g=PRICES, best=200)
    cheapest = next(recipe for recipe in found if Why.CHEAPEST in recipe.why)
    limit = max(2.0, min(recipe.de00 for recipe in found) + 1.0)
    assert cheapest.cost_per_kg == min(recipe.cost_per_kg for recipe in found if recipe.de00 <= limit)


def test_a_missing_price_makes_the_cost_unknown():
    prices = {name: price for name, price in PRICES.items() if name != "dye 0"}
    for recipe in recipes(price_per_g=prices):
        assert (recipe.cost_per_kg is None) == any(dye.name == "dye 0" for dye in recipe.dyes)


def test_a_target_known_by_lab_cannot_tell_other_light():
    assert all(recipe.other_light is None for recipe in recipes(Target(MEASURED.lab)))


def test_no_recipe_holds_a_dye_that_does_nothing():
    for recipe in recipes(best=100):
        assert min(dye.depth_percent for dye in recipe.dyes) >= 0.002


def test_as_many_recipes_as_asked_for():
    assert len(recipes(best=3)) == 3
    assert len(recipes(best=1)) == 1


def test_the_same_question_gets_the_same_answer():
    assert recipes() == recipes()


def test_nothing_to_choose_from_is_said():
    nothing = Solutions(np.zeros((1, 7)), np.array([1]), np.array([20.0]), np.array([20.0]), 1, 20.0)
    with pytest.raises(NoMatchError, match="no mix of this shelf"):
        choose_recipes(SHELF, MEASURED, nothing, TABLES, np.random.default_rng(1))


def test_weighing_error_grows_with_the_scatter_of_doses():
    errors = [
        weighing_p95(SHELF, MIX, TABLES, np.random.default_rng(1), Weighing(sd_frac=sd)) for sd in (0.0, 0.02, 0.05)
    ]
    assert errors[0] == pytest.approx(0, abs=1e-9)
    # Doses off by 2 and 5 % in an independent trial on other invented dyes: 0.21 and 0.54 on average; the 95th
    # percentile of a scatter in three directions is about twice its mean.
    assert 0.2 < errors[1] < 1.0
    assert errors[2] == pytest.approx(2.5 * errors[1], rel=0.1)


def test_a_coarse_scale_on_little_yarn_adds_to_it():
    fine, coarse = (
        weighing_p95(
            SHELF, MIX, TABLES, np.random.default_rng(1), Weighing(fibre_mass_g=50, scale_resolution_g=resolution)
        )
        for resolution in (0.001, 0.1)
    )
    # 0.2 % on 50 g is 0.1 g: a scale of 0.1 g cannot weigh it.
    assert coarse > 3 * fine


def test_troubles_add_as_squares_and_each_dye_costs_its_price():
    one = _Candidates(
        depths=np.array([[0.01, 0.0, 0.02]]),
        de00=np.array([3.0]),
        other_light=np.array([[2.0, 6.0, 4.0]]),
        weighing=np.array([3.0]),
        band=np.array([24.0]),
        cost=np.array([np.nan]),
    )
    # By hand: lights 4 and weighing 3 make 5; a 95 % radius of 24 is a standard deviation of 12; 3² + 5² + 12² = 178.
    assert one.unsteadiness == pytest.approx([5.0])
    assert one.trouble == pytest.approx([178**0.5 + 2 * PRICE_OF_A_DYE])
