"""Swatches of an invented shelf that went wrong on purpose, and what is said of them."""

from dataclasses import replace

import numpy as np
import pytest
from synthetic_shelf import LADDER, TABLES, World, acid_curves, invented_curves, lab_of

from dyewright.core.colour import delta_e00, reflectance_from_lab
from dyewright.core.mixing import Mishap, checked, fit_shelf, k_over_s, lab_of_mix, left_out, left_out_by_dye, suspects
from dyewright.core.model import Swatch

DYES = 6
RNG = np.random.default_rng(11)
WORLD = World(invented_curves(RNG, DYES), law="langmuir")
GOOD = WORLD.shelf(RNG, 0.3, depth_sd=0.05)
GREY = replace(GOOD[0], base="grey fleece", lab=(55.0, 0.0, 2.0))
NAMES = [f"dye {dye}" for dye in range(DYES)]


def place_of(dye, step):
    """Return where the swatch of a dye at a step of the ladder stands; the undyed base comes first."""
    return 1 + len(LADDER) * dye + step


def with_swatch(dye, step, lab):
    changed = list(GOOD)
    at = place_of(dye, step)
    changed[at] = replace(changed[at], lab=tuple(lab))
    return changed


def single(dye, depth):
    return depth * np.eye(DYES)[dye]


def test_a_swatch_left_out_is_foretold_from_the_fit_without_it():
    # Another way to the same number: fit the shelf anew without the swatch, as a whole.
    at = place_of(2, 3)
    rest = [swatch for place, swatch in enumerate(GOOD) if place != at]
    anew = lab_of_mix(fit_shelf(rest, TABLES), single(2, LADDER[3]), TABLES)
    found = next(one for one in left_out(GOOD, TABLES) if one.place == at)
    assert found.foretold == pytest.approx(anew, abs=0.1)
    assert found.de00 == pytest.approx(delta_e00(GOOD[at].lab, anew), abs=0.1)


def test_good_swatches_surprise_as_much_as_expected():
    # Thirty swatches made with just the scatter that is supposed: root mean square 1, less what belief makes cautious.
    surprise = np.array([one.surprise for one in left_out(GOOD, TABLES)])
    assert len(surprise) == DYES * len(LADDER)
    assert 0.6 < np.sqrt(np.mean(surprise**2)) < 1.2
    assert not suspects(GOOD, TABLES)


def test_both_answers_come_from_one_fit_as_they_do_apart():
    wrong = with_swatch(2, 2, WORLD.lab(single(2, LADDER[2] / 2)))
    assert checked(wrong, TABLES) == (left_out(wrong, TABLES), suspects(wrong, TABLES))


def test_each_dye_has_its_error_and_a_lonely_swatch_has_none():
    few = [GOOD[0], *GOOD[1:6], GOOD[place_of(1, 2)]]
    errors = left_out_by_dye(left_out(few, TABLES), NAMES[:2])
    assert 0.1 < errors["dye 0"] < 3
    assert errors["dye 1"] is None


def test_a_swatch_weighed_at_half_is_found_with_its_factor():
    (suspect,) = suspects(with_swatch(2, 2, WORLD.lab(single(2, LADDER[2] / 2))), TABLES)
    assert suspect.found.place == place_of(2, 2)
    assert suspect.mishap is Mishap.WEIGHING
    assert suspect.depth_factor == pytest.approx(0.5, rel=0.15)  # the ladder itself is known to 5 % a swatch
    assert suspect.left_de00 < 1.5 < suspect.found.de00


def test_a_swatch_of_another_dye_is_found_with_its_name():
    (suspect,) = suspects(with_swatch(1, 1, WORLD.lab(single(4, LADDER[1]))), TABLES)
    assert suspect.found.place == place_of(1, 1)
    assert (suspect.mishap, suspect.other) == (Mishap.OTHER_DYE, "dye 4")


def test_a_swatch_on_another_base_is_found_with_its_name():
    below = k_over_s(reflectance_from_lab(GREY.lab, TABLES))
    lab = lab_of(below + WORLD.curves[3] * 0.003 / (1 + 0.003 / 0.06))  # the world's own law on the other base
    (suspect,) = suspects([*with_swatch(3, 1, lab), GREY], TABLES)
    assert suspect.found.place == place_of(3, 1)
    assert (suspect.mishap, suspect.other) == (Mishap.OTHER_BASE, "grey fleece")


def test_a_colour_that_nothing_explains_is_left_open():
    (suspect,) = suspects(with_swatch(0, 3, (60.0, 40.0, -30.0)), TABLES)
    assert suspect.mishap is Mishap.NOT_KNOWN
    assert suspect.left_de00 == suspect.found.de00


def test_a_mix_with_one_dye_weighed_twice_is_found_with_that_dye():
    depths = single(0, 0.004) + single(5, 0.004)
    noted = {"dye 0": 0.004, "dye 5": 0.004}
    made = WORLD.swatch(depths + single(5, 0.008), RNG, 0.3)
    (suspect,) = suspects([*GOOD, replace(made, depths_owf=noted)], TABLES)
    assert suspect.found.place == len(GOOD)
    assert (suspect.mishap, suspect.other) == (Mishap.WEIGHING, "dye 5")
    assert suspect.depth_factor == pytest.approx(3, rel=0.2)


def test_curves_are_judged_as_labs_are():
    spectral = [
        replace(swatch, lab=None, reflectance=tuple(WORLD.reflectance(depths)), source="spectrophotometer")
        for swatch, depths in (
            (swatch, np.array([swatch.depths_owf.get(name, 0.0) for name in NAMES])) for swatch in GOOD
        )
    ]
    at = place_of(2, 2)
    spectral[at] = replace(spectral[at], reflectance=tuple(WORLD.reflectance(single(2, 0.005))))
    (suspect,) = suspects(spectral, TABLES)
    assert (suspect.found.place, suspect.mishap) == (at, Mishap.WEIGHING)


def shelf_of_curves(rng, *, gone_wrong=()):
    """Return the twelve dyes with real bands, measured as curves with the noise that is supposed, 5 % off in depth."""
    made = World(acid_curves())
    swatches = [Swatch({}, "ecru", reflectance=tuple(made.reflectance(np.zeros(12))), source="spectrophotometer")]
    for dye in range(12):
        for depth in LADDER:
            reached = depth * np.exp(rng.normal(0, 0.05)) * (2 if (dye, depth) in gone_wrong else 1)
            curve = made.reflectance(reached * np.eye(12)[dye])
            read = np.clip(curve + rng.normal(0, np.hypot(0.002, 0.01 * curve)), 0.001, 1)
            swatches.append(Swatch({f"dye {dye}": depth}, "ecru", reflectance=tuple(read), source="spectrophotometer"))
    return swatches


@pytest.mark.parametrize("seed", [0, 1])
def test_the_noise_of_a_dark_curve_is_not_taken_for_a_mishap(seed):
    # A curve's noise of 0.002 is a tenth of what a black reflects: some 0.5 in a* and b*, not an instrument's 0.15.
    surprise = [one.surprise for one in left_out(shelf_of_curves(np.random.default_rng(seed)), TABLES)]
    assert max(surprise) < 2.3
    assert np.sqrt(np.mean(np.square(surprise))) > 0.6


def test_a_dark_curve_weighed_twice_is_found_all_the_same():
    (suspect,) = suspects(shelf_of_curves(np.random.default_rng(0), gone_wrong={(7, 0.02)}), TABLES)
    assert suspect.mishap is Mishap.WEIGHING
    assert suspect.found.swatch.depths_owf == {"dye 7": 0.02}
    assert suspect.depth_factor == pytest.approx(2.0, rel=0.15)
