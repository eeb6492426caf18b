from dataclasses import replace

import numpy as np
import pytest
from synthetic_shelf import BASE, TABLES, base_swatch, invented_curves, lab_of, ladder_swatches

from dyewright.core.colour import delta_e00, lab_from_xyz
from dyewright.core.matching import Limits, Solutions, Target, Weighing, choose_recipes, search
from dyewright.core.matching.rank import PRICE_OF_A_DYE, _best_of_each, _Candidates, _is_beaten, _unbeaten
from dyewright.core.matching.weighing import weighing_rms
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
PRICED = Limits(price_per_g=PRICES)


def recipes(target=MEASURED, limits=None, **how):
    found = search(SHELF, target, TABLES, limits)
    return choose_recipes(SHELF, target, found, TABLES, np.random.default_rng(1), limits=limits, **how)


def vector(recipe):
    depths = np.zeros(7)
    for dye in recipe.dyes:
        depths[SHELF.dyes.index(dye.name)] = dye.depth_percent / 100
    return depths


def test_each_kind_of_best_is_among_the_first_and_the_first_is_one_of_them():
    first, *others = recipes(limits=PRICED)

    kinds = {kind for recipe in (first, *others) for kind in recipe.why}
    assert kinds == {Why.CLOSEST, Why.STEADIEST, Why.FEWEST_DYES, Why.CHEAPEST}
    assert first.why
    closest = min(recipe.de00 for recipe in (first, *others))
    assert first.de00 <= closest + 0.5


def test_what_a_recipe_says_is_true_of_it():
    lamp, white = TABLES.weights["A", 10], TABLES.whites["A", 10]
    for recipe in recipes(limits=PRICED):
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
    found = recipes(limits=PRICED, best=200)
    cheapest = next(recipe for recipe in found if Why.CHEAPEST in recipe.why)
    limit = max(2.0, min(recipe.de00 for recipe in found) + 1.0)
    assert cheapest.cost_per_kg == min(recipe.cost_per_kg for recipe in found if recipe.de00 <= limit)


def test_a_missing_price_makes_the_cost_unknown():
    prices = {name: price for name, price in PRICES.items() if name != "dye 0"}
    for recipe in recipes(limits=Limits(price_per_g=prices)):
        assert (recipe.cost_per_kg is None) == any(dye.name == "dye 0" for dye in recipe.dyes)


def test_a_target_known_by_lab_cannot_tell_other_light():
    assert all(recipe.other_light is None for recipe in recipes(Target(MEASURED.lab)))


def test_no_recipe_holds_a_dye_that_does_nothing():
    for recipe in recipes(best=100):
        assert min(dye.depth_percent for dye in recipe.dyes) >= 0.002


def test_no_more_recipes_than_asked_for():
    assert len(recipes(best=2)) == 2
    assert len(recipes(best=1)) == 1


def test_no_recipe_shown_is_beaten_by_another_on_all_counts():
    shown = recipes(best=200, limits=PRICED)
    assert 4 <= len(shown) < 40  # hundreds of combinations come within 2 of this target

    def counts(recipe):
        light = sum(recipe.other_light.values()) / 3
        return recipe.de00, light, recipe.de00_95, recipe.cost_per_kg, len(recipe.dyes)

    def weighing(recipe):
        return weighing_rms(SHELF, vector(recipe)[None], TABLES, Weighing())[0]

    table = np.array([[*counts(recipe), weighing(recipe)] for recipe in shown])
    for place, (row, recipe) in enumerate(zip(table, shown, strict=True)):
        beaten = np.all(table <= row, axis=1) & np.any(table < row - 1e-9, axis=1)
        assert recipe.why or not beaten[np.arange(len(shown)) != place].any()


def test_beaten_is_what_another_equals_in_everything_and_passes_in_something():
    steps = np.array([[0.1, 0.0], [0.1, 3.0], [5.0, 0.5], [0.0, 2.9], [0.1, 0.0]])
    # By hand: row 1 is worse than row 0 in all; row 3 is better than
    # row 0 in the first; row 4 equals row 0, which beats nobody; row 2 is worse than row 0 in both.
    assert [_is_beaten(row, steps) for row in steps] == [False, True, True, False, False]


def test_what_only_rounding_tells_apart_does_not_keep_a_recipe():
    # By hand: all three reach the target; in all that can be told, row 1 is better than both others.
    rows = rows_of(de00=[0.0, 1e-6, 1e-9], weighing=[0.5, 0.4, 0.6], band=[2.0, 1.0, 3.0])
    assert _unbeaten(rows, [1]) == [1]
    # Here row 0 is surer than row 1, and row 2 is worse than both.
    assert _unbeaten(rows_of(de00=[0.0, 0.0, 0.0], weighing=[0.5, 0.4, 0.6], band=[1.0, 2.0, 3.0]), [1]) == [1, 0]


def test_of_recipes_with_the_fewest_dyes_that_are_as_close_the_least_trouble_is_named():
    rows = rows_of(de00=[1e-9, 1e-7, 0.3], weighing=[0.6, 0.4, 0.1], band=[3.0, 1.0, 0.5])
    kinds = dict(_best_of_each(rows))
    assert kinds[Why.FEWEST_DYES] == kinds[Why.CLOSEST] == 1


def test_everything_is_counted_in_the_steps_that_are_written_down():
    # docs/science/matching.md: 0.25 in ΔE00 or by weighing, 0.5 under other light or in the band, 5 % of cost.
    rows = rows_of(de00=[0.5, 0.0], weighing=[0.75, 0.0], band=[2.0, 0.0])
    rows = replace(rows, other_light=np.array([[0.5, 1.5], [0.0, 0.0]]), cost=np.array([1.05**4, 1.0]))
    (first, second) = rows.in_steps
    assert first - second == pytest.approx([2, 2, 3, 4, 4, 0], abs=1e-6)


@pytest.mark.parametrize(("second_de00", "closest"), [(0.049, 1), (0.051, 0)])
def test_closest_may_be_a_little_off_where_less_may_go_wrong(second_de00, closest):
    # The bound is written in docs/science/matching.md: within 0.05 of the least.
    rows = rows_of(de00=[0.0, second_de00], weighing=[0.6, 0.4], band=[3.0, 1.0])
    assert dict(_best_of_each(rows))[Why.CLOSEST] == closest


def rows_of(de00, weighing, band):
    """Return candidates of two dyes each that differ in these."""
    count = len(de00)
    return _Candidates(
        depths=np.tile([0.01, 0.01, 0.0], (count, 1)),
        de00=np.array(de00),
        other_light=np.zeros((count, 0)),
        weighing=np.array(weighing),
        cost=np.full(count, np.nan),
        band=np.array(band),
    )


def test_every_recipe_says_why_it_is_shown():
    weighing = Weighing(fibre_mass_g=100, scale_resolution_g=0.1)
    for recipe in recipes(limits=PRICED, weighing=weighing):
        assert f"foretold {recipe.de00:.1f} from the target, sure to ± {recipe.de00_95:.1f}" in recipe.because
        assert f"weighing to 0.1 g moves it {recipe.weighing_de00_p95:.1f}" in recipe.because
        worst = max(recipe.other_light.values())
        assert f" {worst:.1f}; " in recipe.because
        assert f"costs {recipe.cost_per_kg:.2f}" in recipe.because
        # 0.1 g is one step in twenty of 2 g: what is less than 2 % of 100 g comes from a stock.
        assert set(recipe.from_stock) == {dye.name for dye in recipe.dyes if dye.depth_percent < 2}


def test_a_dye_that_was_asked_for_stays_even_where_it_does_nothing():
    names = {name for recipe in recipes(best=5) for name in (dye.name for dye in recipe.dyes)}
    unwanted = next(name for name in SHELF.dyes if name not in names)
    asked = recipes(limits=Limits(must_use=frozenset({unwanted})))
    assert all(unwanted in {dye.name for dye in recipe.dyes} for recipe in asked)


def test_the_same_question_gets_the_same_answer():
    assert recipes() == recipes()


def test_nothing_to_choose_from_is_said():
    nothing = Solutions(np.zeros((1, 7)), np.array([1]), np.array([20.0]), np.array([20.0]), 1, 20.0)
    with pytest.raises(NoMatchError, match="no mix of this shelf"):
        choose_recipes(SHELF, MEASURED, nothing, TABLES, np.random.default_rng(1))


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
