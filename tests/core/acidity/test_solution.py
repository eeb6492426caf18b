import math
import time

import pytest

from dyewright.core.acidity import FibreLoad, activity_coefficient, carbonate_total_mol_l, solve_bath
from dyewright.core.model import Fibre
from dyewright.data.acidity import load_acidity_tables
from dyewright.errors import InputError, OutOfRangeError

TABLES = load_acidity_tables()
WOOL = TABLES.fibres[Fibre.WOOL]


def test_pure_water_is_neutral():
    # Half of pKw, 13.997 at 25 °C (NIST database 46).
    assert solve_bath(TABLES, {}).ph == pytest.approx(6.9985, abs=1e-4)


def test_strong_acid_reads_its_own_activity():
    # By hand: 0.01 mol/L, gamma from Davies at I = 0.01: 10^(-0.5108 (0.0909 - 0.003)) = 0.9018; pH = 2.0449.
    assert solve_bath(TABLES, {"chloride": 0.01}).ph == pytest.approx(2.045, abs=0.001)


def test_hydroxide_rises_with_heat_while_the_ph_falls():
    # Reference notes B1: a soda-ash bath's pH falls by about 0.6 from 25 to 60 °C while its hydroxide rises.
    bath = {"sodium": 0.1887, "carbonate": 0.09434}

    cold, warm = solve_bath(TABLES, bath), solve_bath(TABLES, bath, temperature_c=60.0)

    assert warm.ph - cold.ph == pytest.approx(-0.7, abs=0.15)
    assert warm.hydroxide_mol_l > 1.5 * cold.hydroxide_mol_l


def test_hydroxide_is_what_water_leaves():
    solved = solve_bath(TABLES, {"sodium": 0.01})

    assert solved.hydroxide_mol_l == pytest.approx(0.01, rel=1e-4)  # charge balance of plain lye


def test_a_salted_bath_says_that_its_activities_are_clamped():
    assert solve_bath(TABLES, {"sodium": 1.0, "chloride": 1.0}).is_clamped
    assert not solve_bath(TABLES, {"sodium": 0.1, "chloride": 0.1}).is_clamped


def test_carbonate_of_a_tap_water_gives_its_ph_back():
    carbonate = carbonate_total_mol_l(TABLES, 2.0, 7.3)

    assert solve_bath(TABLES, {"sodium": 0.002, "carbonate": carbonate}).ph == pytest.approx(7.3, abs=0.005)


def test_carbonate_at_the_temperature_of_the_tap():
    # Measured at 10 °C the same pH means more carbon dioxide: the first pK is 6.46 there and 6.35 at 25 °C.
    cold = carbonate_total_mol_l(TABLES, 2.0, 7.3, temperature_c=10.0)

    assert cold > carbonate_total_mol_l(TABLES, 2.0, 7.3)
    assert solve_bath(TABLES, {"sodium": 0.002, "carbonate": cold}, temperature_c=10.0).ph == pytest.approx(
        7.3, abs=0.005
    )


def test_a_ph_too_high_for_the_alkalinity_is_refused():
    with pytest.raises(OutOfRangeError, match=r"more alkalinity than 0\.1 meq/L"):
        carbonate_total_mol_l(TABLES, 0.1, 11.0)


def test_a_bath_sourer_than_any_scale_is_refused():
    with pytest.raises(OutOfRangeError, match="outside -1 to 15"):
        solve_bath(TABLES, {"formate": 4e6})  # 180 t of formic acid in a litre


@pytest.mark.parametrize("total", [-0.001, math.nan, math.inf])
def test_a_total_that_cannot_be_is_refused(total):
    with pytest.raises(InputError, match="acetate must be 0 mol/L or more"):
        solve_bath(TABLES, {"acetate": total})


def test_an_unknown_total_is_refused():
    with pytest.raises(InputError, match="'vinegar' is in no table"):
        solve_bath(TABLES, {"vinegar": 0.1})


def test_yarn_that_holds_all_of_the_liquor_is_refused():
    with pytest.raises(OutOfRangeError, match="add water"):
        solve_bath(TABLES, {"acetate": 0.01}, fibres=[FibreLoad(WOOL, 4.0)])


def test_a_blend_buffers_less_than_its_wool_alone():
    bath = {"acetate": 0.01, "sodium": 0.002, "chloride": 0.001}
    nylon = TABLES.fibres[Fibre.NYLON]

    blend = solve_bath(TABLES, bath, fibres=[FibreLoad(WOOL, 0.02), FibreLoad(nylon, 0.02)])

    assert solve_bath(TABLES, bath).ph < blend.ph < solve_bath(TABLES, bath, fibres=[FibreLoad(WOOL, 0.04)]).ph


@pytest.mark.parametrize("liquor_l_kg", [1, 3, 10, 30])
@pytest.mark.parametrize("acid", [0.001, 0.01, 0.1, 1.0])
def test_the_rounds_close_in_at_any_liquor(liquor_l_kg, acid):
    # By hand: a neutral bath holds as much chloride as hydrogen ion; V (chloride * r - hydrogen / r) = bound gives the
    # Donnan ratio r; chloride outside and inside the fibre adds up to what went in.
    solved = solve_bath(TABLES, {"chloride": acid}, fibres=[FibreLoad(WOOL, 1 / liquor_l_kg)])

    ion = 10**-solved.ph / activity_coefficient(1, solved.ionic_strength_mol_l, 0.5108)
    half = solved.acid_bound_mol_kg / WOOL.inner_water_l_kg / ion / 2
    ratio = half + math.sqrt(half**2 + 1)
    inner_l = WOOL.inner_water_l_kg / liquor_l_kg
    assert ion * (1 - inner_l) + ion * ratio * inner_l == pytest.approx(acid, rel=1e-3)


def test_a_solve_takes_well_under_five_milliseconds():
    bath = {"acetate": 0.008, "sodium": 0.003, "chloride": 0.001, "carbonate": 0.002}
    solve_bath(TABLES, bath, fibres=[FibreLoad(WOOL, 1 / 30)])
    best = math.inf
    for _ in range(20):
        start = time.perf_counter()
        solve_bath(TABLES, bath, fibres=[FibreLoad(WOOL, 1 / 30)])
        best = min(best, time.perf_counter() - start)

    assert best < 0.005
