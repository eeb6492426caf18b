import pytest

from dyewright.core.acidity import dose_for_ph, product_of, solve_bath
from dyewright.core.model import AssistantDose, Strength, Substance
from dyewright.data.acidity import load_acidity_tables, load_substances
from dyewright.errors import InputError, OutOfRangeError

TABLES = load_acidity_tables()
TAP = {"sodium": 0.002, "carbonate": 0.002}
ACETIC = {"acetate": 1 / 60.052}


def test_the_dose_reaches_the_ph():
    dose_g_l = dose_for_ph(TABLES, TAP, ACETIC, 4.69, most_g_l=50.0)

    # Reference notes J6: 5 mL/L of vinegar (0.25 g/L of acid) gives 4.690 at 100 mg/L; 2 % is 0.01 in pH.
    assert dose_g_l == pytest.approx(0.25, rel=0.02)
    assert solve_bath(TABLES, {**TAP, "acetate": dose_g_l / 60.052}).ph == pytest.approx(4.69, abs=1e-3)


def test_a_bath_already_there_needs_nothing():
    assert dose_for_ph(TABLES, TAP, ACETIC, solve_bath(TABLES, TAP).ph, most_g_l=50.0) == 0


@pytest.mark.parametrize(("target_ph", "nearest_with_g_l"), [(2.0, 50.0), (9.0, 0.0)])
def test_out_of_reach_says_the_nearest_ph(target_ph, nearest_with_g_l):
    with pytest.raises(OutOfRangeError, match="cannot be reached") as caught:
        dose_for_ph(TABLES, TAP, ACETIC, target_ph, most_g_l=50.0)

    # Acid only lowers a pH: nearest to a lower one is the bath with all of it, to a higher one the bath without.
    nearest = solve_bath(TABLES, {**TAP, "acetate": nearest_with_g_l / 60.052}).ph
    assert caught.value.limit == pytest.approx(nearest, abs=1e-6)


def test_the_most_must_be_something():
    with pytest.raises(InputError, match="above 0"):
        dose_for_ph(TABLES, TAP, ACETIC, 4.5, most_g_l=0.0)


def product(substance, **strength):
    return product_of(AssistantDose("it", substance, Strength(**strength)), load_substances()[substance])


def test_a_millilitre_of_vinegar_holds_a_twentieth_of_a_gram():
    vinegar = product(Substance.ACETIC_ACID, w_v_g_l=50.0)

    # 1 mL at 50 g/L is 0.05 g, 0.05/60.052 mol.
    assert vinegar.is_liquid
    assert vinegar.mass_g(0.001) * vinegar.gives_mol_g["acetate"] == pytest.approx(0.05 / 60.052)


def test_one_millilitre_of_glacial_acid_is_21_of_vinegar():
    # Reference notes A: "1 mL glacial = about 21 mL of 5 % vinegar".
    glacial, vinegar = product(Substance.ACETIC_ACID, w_w_frac=1.0), product(Substance.ACETIC_ACID, w_v_g_l=50.0)

    ratio = glacial.mass_g(1) * glacial.gives_mol_g["acetate"] / (vinegar.mass_g(1) * vinegar.gives_mol_g["acetate"])
    assert ratio == pytest.approx(21, abs=0.5)


def test_a_gram_of_soda_ash_is_2_7_g_of_washing_soda():
    # Reference notes A: 1 g soda ash = 1.17 g monohydrate = 2.70 g decahydrate.
    ash, mono, deca = (
        product(s).gives_mol_g["carbonate"]
        for s in (Substance.SODA_ASH, Substance.SODA_ASH_MONOHYDRATE, Substance.SODA_ASH_DECAHYDRATE)
    )
    assert ash / mono == pytest.approx(1.17, abs=0.005)
    assert ash / deca == pytest.approx(2.70, abs=0.005)


def test_a_hydrate_is_a_solid_and_a_weak_solution_a_liquid():
    assert not product(Substance.CITRIC_ACID, w_w_frac=0.9143).is_liquid
    assert product(Substance.CITRIC_ACID, w_w_frac=0.10).is_liquid


@pytest.mark.parametrize("strength", [{"w_v_g_l": 0.0}, {"w_v_g_l": 2000.0}, {"w_w_frac": 1.2}])
def test_a_strength_that_cannot_be_is_refused(strength):
    with pytest.raises(InputError, match="not possible"):
        product(Substance.ACETIC_ACID, **strength)
