import numpy as np
import pytest
from synthetic_shelf import TABLES, base_swatch, invented_curves, ladder_swatches

from dyewright.core.colour import delta_e00, lab_from_xyz
from dyewright.core.model import Basis, Swatch
from dyewright.errors import InputError
from dyewright.services.matching import (
    Search,
    colour_from_text,
    difference,
    match,
    shade,
    target_from_swatch,
    target_from_text,
)

RNG = np.random.default_rng(4)
SWATCHES = [base_swatch(), *ladder_swatches(RNG, invented_curves(RNG, 3), 0.3)]


def test_no_dye_is_the_measured_base():
    told = shade(SWATCHES, {})
    assert told.basis is Basis.MEASURED
    assert told.lab == pytest.approx(SWATCHES[0].lab, abs=1e-6)


def test_notes_say_what_the_answer_leans_on():
    notes = " | ".join(shade(SWATCHES, {"dye 1": 0.06}).notes)
    assert "fitted from 5 swatches of dye 1" in notes
    assert "known by their Lab only" in notes
    assert "dye 1 at 6 % is deeper than its deepest swatch (4 %)" in notes


def test_a_lab_target_says_that_other_light_is_not_known():
    found = match(SWATCHES, target_from_text("lab 50 10 10"))
    assert any("not known" in note for note in found.notes)
    assert found.recipes[0].other_light is None


def test_a_lab_under_another_light_is_carried_to_daylight():
    # A curve's own Lab under A and under D65: the smooth stand-in recovered from the first must come near the second,
    # within what curve recovery costs (colour of 24 chart patches: about 1 ΔE00, at most 2.7).
    curve = np.linspace(0.15, 0.6, 31)
    under_a, day = (lab_from_xyz(curve @ TABLES.weights[light, 10], TABLES.whites[light, 10]) for light in ("A", "D65"))
    target = target_from_swatch(Swatch({}, "", lab=tuple(under_a), illuminant="A", observer=10))
    assert delta_e00(target.lab, day) < 2.7
    assert delta_e00(target.lab, day) < 0.5 * delta_e00(under_a, day)
    assert target.reflectance is None


def test_a_difference_names_its_standard():
    there, back = difference((50, 40, 30), (52, 45, 30)), difference((52, 45, 30), (50, 40, 30))
    assert there.de00 == pytest.approx(back.de00)
    assert there.decmc21 != pytest.approx(back.decmc21, rel=1e-3)
    assert any("first colour is the standard" in note for note in there.notes)


@pytest.mark.parametrize("text", ["45 -20 -5", "lab 45 -20 -5", "45, -20, -5"])
def test_a_typed_colour_may_leave_out_its_kind(text):
    assert colour_from_text(text).lab == (45, -20, -5)


@pytest.mark.parametrize("text", ["45.5 −20 −5.1", "45,5 -20 -5,1", "45.5,-20,-5.1", "45.5; -20; –5.1"])
def test_a_colour_may_be_copied_from_a_page_and_have_decimal_commas(text):
    assert colour_from_text(text).lab == (45.5, -20, -5.1)


def test_a_typed_colour_never_opens_a_file(tmp_path):
    path = tmp_path / "sample.csv"
    path.write_text("L,a,b\n45,-20,-5\n")
    assert target_from_text(f"swatch {path}").lab == (45, -20, -5)
    with pytest.raises(InputError, match="is not understood"):
        colour_from_text(f"swatch {path}")


def test_the_closest_recipe_tells_whether_a_target_is_reached_even_where_it_is_not_shown():
    target = target_from_text("lab 50 10 10")
    whole, one = (match(SWATCHES, target, how=Search(best=best)) for best in (10, 1))
    assert len(one.recipes) == 1
    assert one.recipes[0] == whole.recipes[0]
    assert (one.reachable, one.verdict) == (whole.reachable, whole.verdict)
