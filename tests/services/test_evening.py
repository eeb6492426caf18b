"""A swatch evening: what goes into the jars, in which order, and what becomes of them."""

from datetime import date
from decimal import Decimal

import pytest

from dyewright.core.model import Base, Dye, DyeClass, Evening, Fibre, Jar, Settings, Water
from dyewright.errors import InputError
from dyewright.services import evening_amounts

WOOL = Base("Fellside wool", {Fibre.WOOL: 1.0}, id=1)
DYES = (
    Dye("Lagoon", DyeClass.ACID_MILLING),
    Dye("Soot", DyeClass.METAL_COMPLEX),
    Dye("Gorse", DyeClass.ACID_LEVELLING),
)
SETTINGS = Settings("Test shed", water=Water(95.0), scale_resolution_g=0.01)


def jar(number, recipe, mass="5", seat=""):
    return Jar(number, recipe, Decimal(mass), seat)


def an_evening(*jars, liquor=40.0, stock=10.0, **more):
    return Evening("Ladders", date(2026, 11, 26), 1, liquor, stock, jars, **more)


def measured(planned, number=1, **more):
    return evening_amounts.jar_amounts(planned, planned.jars[number - 1], WOOL, DYES, SETTINGS, **more)


def test_a_jar_is_measured_out_by_syringe():
    amounts = measured(an_evening(jar(1, {"Lagoon": 0.01, "Soot": 0.0005})))

    # by hand: 5 g at 40:1 is 200 mL; 1 % of 5 g is 50 mg, 5 mL of 1 %; 0.05 % is 2.5 mg, which is 0.25 mL of 1 % and so
    # 2.5 mL of 0.1 %
    assert amounts.liquor_l == pytest.approx(0.2)
    lagoon, soot = amounts.doses
    assert (lagoon.strength_g_l, lagoon.drawn_l) == (10.0, pytest.approx(0.005))
    assert (soot.strength_g_l, soot.drawn_l) == (1.0, pytest.approx(0.0025))
    vinegar = amounts.assistants[0]
    assert amounts.water_l + amounts.carried_l + 0.0075 + vinegar.drawn_l == pytest.approx(0.2)
    # wool is 1.31 g/mL (data/fibre_water), so 5 g are 3.8 mL: (200 + 3.8) / 500
    assert amounts.fill_frac == pytest.approx(0.4076, abs=1e-4)


def test_the_acid_is_what_the_bath_model_says_and_is_drawn_by_the_mark():
    amounts = measured(an_evening(jar(1, {"Lagoon": 0.01})))

    vinegar = amounts.assistants[0]
    assert vinegar.name == "white vinegar 5 %"
    assert vinegar.target_ph == 5.0  # data/practice_doses: milling dye on wool
    assert amounts.ph == pytest.approx(5.0, abs=0.01)
    assert vinegar.drawn_l * 10_000 == pytest.approx(round(vinegar.drawn_l * 10_000))


def test_a_solid_too_fine_for_the_scale_is_drawn_as_a_solution():
    citric = measured(an_evening(jar(1, {"Gorse": 0.01}))).assistants[0]

    assert citric.name == "citric acid"  # data/practice_doses: levelling dye on wool
    assert citric.is_solution
    assert citric.drawn_l == pytest.approx(citric.mass_g / 100, abs=0.00005)  # 10 % is 100 g in a litre


def test_a_swatch_is_kept_with_the_depth_that_was_drawn():
    [dose] = measured(an_evening(jar(1, {"Lagoon": 0.0033}))).doses

    # by hand: 0.33 % of 5 g is 16.5 mg, 1.65 mL; the syringe gives 1.7 mL, 17 mg, 0.34 %
    assert dose.depth_owf == 0.0033
    assert dose.drawn_owf == pytest.approx(0.0034)


def test_the_undyed_skein_goes_through_the_same_bath():
    planned = an_evening(jar(1, {}), jar(2, {"Lagoon": 0.01}))

    blank, dyed = measured(planned, 1), measured(planned, 2)
    assert blank.doses == ()
    assert blank.assistants[0].drawn_l == dyed.assistants[0].drawn_l


@pytest.mark.parametrize(
    ("mass", "liquor", "jar_l", "said"),
    [
        ("10", 60, 0.5, "jar 1: liquor and yarn are 608.*a jar of 500.*full enough at 425.*lower the liquor ratio"),
        ("5", 40, 0.2, "jar 1: liquor and yarn are 204"),
    ],
)
def test_a_jar_that_would_overflow_says_so(mass, liquor, jar_l, said):
    with pytest.raises(InputError, match=said):
        measured(an_evening(jar(1, {"Lagoon": 0.01}, mass), liquor=liquor), jar_l=jar_l)


def test_doses_beyond_the_liquor_are_refused():
    with pytest.raises(InputError, match="mix a stronger stock"):
        measured(an_evening(jar(1, {"Lagoon": 0.04}), stock=1.0))  # 200 mg at 1 g/L are the whole 200 mL


def test_stocks_are_enough_for_every_jar_and_weaker_ones_are_thinned():
    planned = an_evening(
        jar(1, {"Lagoon": 0.0005}), jar(2, {"Lagoon": 0.01}), jar(3, {"Lagoon": 0.04}), jar(4, {"Soot": 0.001})
    )
    stocks = evening_amounts.stocks_to_mix([measured(planned, n) for n in range(1, 5)], 10.0, 0.01)

    # by hand: jar 1 takes 2.5 mL of 0.1 %, made as 100 mL of it from 10 mL of 1 %; jars 2 and 3 5 and 20 mL of 1 %:
    # 35 mL with the thinning, so 100 mL and 1 g; Soot 0.5 mL of 1 %
    lagoon, thin, soot = stocks
    assert (lagoon.strength_g_l, lagoon.volume_l, lagoon.powder_g) == (10.0, pytest.approx(0.1), pytest.approx(1.0))
    assert lagoon.taken_l == pytest.approx(0.025)
    assert (thin.strength_g_l, thin.from_g_l, thin.powder_g) == (pytest.approx(1.0), 10.0, None)
    assert thin.from_l == pytest.approx(0.01)
    assert thin.volume_l == pytest.approx(0.1)
    assert (soot.name, soot.powder_g, soot.taken_l) == ("Soot", pytest.approx(1.0), pytest.approx(0.0005))
