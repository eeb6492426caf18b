from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from dyewright.core.acidity import FibreLoad, dose_for_ph, solve_bath
from dyewright.core.model import Fibre, Water, Yarn
from dyewright.data.acidity import load_acidity_tables
from dyewright.services.assistants import parse_addition
from dyewright.services.water import bath_ph

TABLES = load_acidity_tables()
WOOL = TABLES.fibres[Fibre.WOOL]
ALKALINITY = st.floats(0, 0.006)
ACID = st.sampled_from(["acetate", "formate", "citrate", "chloride"])
DOSE = st.floats(1e-4, 0.05)
LOAD = st.floats(0.001, 0.2)
quick = settings(max_examples=40, deadline=None)


@quick
@given(ALKALINITY, ACID, DOSE, st.floats(1.01, 3), st.booleans())
def test_more_acid_never_raises_the_ph(alkalinity, acid, dose, factor, has_wool):
    fibres = [FibreLoad(WOOL, 0.04)] if has_wool else []
    tap = {"sodium": alkalinity, "carbonate": alkalinity}

    less, more = (solve_bath(TABLES, {**tap, acid: d}, fibres=fibres).ph for d in (dose, dose * factor))

    # 1e-4: in neutral water a strong acid also adds ionic strength, which moves activities by less than this.
    assert more <= less + 1e-4


@quick
@given(st.floats(0, 300), st.floats(0.5, 25), st.floats(1, 40), st.floats(10, 500))
def test_doubling_bath_yarn_and_amounts_leaves_the_ph(alkalinity_mg_l, liquor_l, ml, dry_g):
    assume(dry_g / 1000 / liquor_l < 0.5)
    vinegar = replace(parse_addition("white vinegar 5 %=1 mL"), volume_l=ml * liquor_l / 1000)

    once, twice = (
        bath_ph(
            yarn=Yarn({Fibre.WOOL: 0.8, Fibre.NYLON: 0.2}, dry_g * times),
            liquor_l=liquor_l * times,
            water=Water(alkalinity_mg_l, 7.8),
            assistants=[replace(vinegar, volume_l=vinegar.volume_l * times)],
        )
        for times in (1, 2)
    )

    assert twice.ph_closed == pytest.approx(once.ph_closed, abs=1e-6)
    assert twice.ph_stripped == pytest.approx(once.ph_stripped, abs=1e-6)


@quick
@given(ALKALINITY, ACID, DOSE, LOAD)
def test_wool_only_moves_a_bath_towards_its_neutral_region(alkalinity, acid, dose, load):
    bath = {"sodium": alkalinity, "carbonate": alkalinity, acid: dose}
    without = solve_bath(TABLES, bath).ph
    assume(without < 5.5 or without > 7.5)

    with_wool = solve_bath(TABLES, bath, fibres=[FibreLoad(WOOL, load)]).ph

    # Wool's zero point is near pH 6: an acid bath rises, an alkaline one falls, neither past the region.
    if without < 5.5:
        assert without - 1e-6 <= with_wool < 7
    else:
        assert 5.5 < with_wool <= without + 1e-6


@quick
@given(ALKALINITY, st.sampled_from(["acetate", "formate", "citrate"]), DOSE, st.booleans())
def test_there_and_back_from_dose_to_ph(alkalinity, acid, dose, has_wool):
    fibres = [FibreLoad(WOOL, 0.04)] if has_wool else []
    tap = {"sodium": alkalinity, "carbonate": alkalinity}
    ph = solve_bath(TABLES, {**tap, acid: dose}, fibres=fibres).ph

    found = dose_for_ph(TABLES, tap, {acid: 1.0}, ph, most_g_l=1.0, fibres=fibres)

    assert solve_bath(TABLES, {**tap, acid: found}, fibres=fibres).ph == pytest.approx(ph, abs=1e-4)
    assert found == pytest.approx(dose, rel=0.01)


@quick
@given(ALKALINITY, ACID, DOSE, LOAD)
def test_the_fibre_never_binds_more_than_there_is_or_than_it_can(alkalinity, acid, dose, load):
    bath = {"sodium": alkalinity, "carbonate": alkalinity, acid: dose}
    protons = 3 if acid == "citrate" else 1

    bound = solve_bath(TABLES, bath, fibres=[FibreLoad(WOOL, load)]).acid_bound_mol_kg

    assert bound <= 0.8201  # NBS RP1286
    assert bound * load <= dose * protons + 2 * alkalinity


@quick
@given(
    st.floats(0.01, 1.0),
    st.dictionaries(
        st.sampled_from(["acetate", "formate", "citrate", "carbonate", "ammonium", "sulphate", "sodium", "chloride"]),
        st.floats(1e-6, 1.0),
    ),
    st.floats(0, 100),
)
def test_every_bath_from_one_litre_a_kilogram_up_settles(load, bath, temperature_c):
    solved = solve_bath(TABLES, bath, fibres=[FibreLoad(WOOL, load)], temperature_c=temperature_c)

    assert -1 < solved.ph < 15
    assert solved.hydroxide_mol_l > 0
