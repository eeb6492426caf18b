import numpy as np
import pytest
from synthetic_shelf import BASE, base_swatch, invented_curves, lab_of, ladder_swatches

from dyewright.core.colour import delta_e00
from dyewright.core.matching import Limits, Target
from dyewright.core.mixing import reflectance_from_k_over_s
from dyewright.services.matching import Search
from dyewright.services.overdyeing import overdye

RNG = np.random.default_rng(4)
CURVES = invented_curves(RNG, 5)
SWATCHES = [base_swatch(with_curve=True), *ladder_swatches(RNG, CURVES, 0.0, with_curve=True)]


def dyed(*depths):
    ratio = BASE + np.array(depths) @ CURVES
    return Target(tuple(lab_of(ratio).tolist()), reflectance_from_k_over_s(ratio))


YARN = dyed(0.004, 0, 0, 0, 0)


def test_additions_over_dyed_yarn_reach_the_colour_of_both_together():
    # Truth by construction: absorption adds up, so 0.4 % of the first and then these are the mix of all.
    found = overdye(SWATCHES, YARN, dyed(0.004, 0.003, 0, 0.002, 0), how=Search(best=200))
    assert found.reachable
    own = next(r for r in found.recipes if {dye.name for dye in r.dyes} == {"dye 1", "dye 3"})
    assert {dye.name: dye.depth_percent for dye in own.dyes} == pytest.approx({"dye 1": 0.3, "dye 3": 0.2}, abs=0.01)
    assert found.from_lab == YARN.lab
    assert found.darker_lab is None
    assert any("over-dye one snip first" in note for note in found.notes)


def test_the_time_of_the_fit_is_told_apart_from_that_of_the_search():
    found = overdye(SWATCHES, YARN, dyed(0.004, 0.003, 0, 0.002, 0))
    assert found.fit_seconds > 0
    assert found.seconds > 0


def test_yarn_that_is_there_already_is_left_alone():
    found = overdye(SWATCHES, YARN, Target((YARN.lab[0] + 0.3, *YARN.lab[1:])))
    assert found.reachable
    assert found.recipes == ()
    assert found.verdict.startswith("It is there already")
    assert found.advice == ("leave the yarn as it is",)


def test_a_lighter_target_needs_stripping_or_goes_darker():
    found = overdye(SWATCHES, dyed(0.01, 0.004, 0, 0, 0), Target((85.0, 0.0, 20.0)))
    assert not found.reachable
    assert found.verdict.startswith("Out of reach by ΔE00")
    assert "lightness" in found.verdict
    assert found.advice[0].startswith("the target is lighter than the yarn (L* 85 against")
    assert "ventilate" in found.advice[1]
    assert found.darker_lab is not None
    again = overdye(SWATCHES, dyed(0.01, 0.004, 0, 0, 0), Target(found.darker_lab))
    assert again.reachable


def test_a_yarn_known_by_its_lab_is_taken_as_a_smooth_curve():
    found = overdye(SWATCHES, Target(YARN.lab), dyed(0.004, 0.003, 0, 0, 0))
    assert found.reachable
    assert delta_e00(found.target_lab, found.recipes[0].lab) < 1


def test_limits_hold_for_additions_too():
    how = Search(Limits(never_use=frozenset({"dye 1"})))
    found = overdye(SWATCHES, YARN, dyed(0.004, 0.003, 0, 0.002, 0), how=how)
    assert all("dye 1" not in {dye.name for dye in recipe.dyes} for recipe in found.recipes)


def test_a_target_that_undyed_yarn_does_not_reach_either_is_no_matter_of_stripping():
    found = overdye(SWATCHES, dyed(0.001, 0, 0, 0, 0), Target((50.0, -70.0, 60.0)))
    assert found.advice[0].startswith("on undyed yarn too the shelf comes no nearer than ΔE00")
    assert all("reducing bath" not in sentence for sentence in found.advice)
