import pytest

from dyewright.core.model import DyeClass, Fibre, Trust
from dyewright.data._reader import number, provenance, rows
from dyewright.data.uptake import load_uptake


def test_every_fibre_has_a_row_for_every_class_that_dyes_it_without_alkali():
    table = load_uptake().rows
    classes = set(DyeClass) - {DyeClass.ACID_UNKNOWN, DyeClass.DIRECT}
    fibres = {Fibre.WOOL, Fibre.ALPACA, Fibre.MOHAIR, Fibre.SILK, Fibre.NYLON}

    cellulose = {Fibre.COTTON, Fibre.LINEN, Fibre.VISCOSE}
    direct = {(fibre, DyeClass.DIRECT) for fibre in cellulose}
    assert set(table) == {(fibre, dye_class) for fibre in fibres for dye_class in classes} | direct
    assert set(load_uptake().saturation_owf) == fibres | cellulose


def test_a_row_reads_as_its_source_gives_it():
    # The notes' table for wool with an acid milling dye at pH 5 to 6: T50 80, Ea 95, final uptake .98, K0 10800.
    row = load_uptake().rows[Fibre.WOOL, DyeClass.ACID_MILLING]

    assert (row.t50_c, row.ea_kj_mol, row.equilibrium_frac, row.ph_ref) == (80, 95, 0.98, 5.5)
    assert (row.k0_l_kg, row.z, row.theta0) == (10800, 0.6, 0.004)
    assert row.trust == {"t50": Trust.ESTIMATE, "ea": Trust.FROM_MEMORY, "equilibrium": Trust.ESTIMATE}


@pytest.mark.parametrize("quantity", ["t50", "ea"])
def test_every_default_lies_inside_its_own_range(quantity):
    unit = {"t50": "c", "ea": "kj_mol"}[quantity]
    for row in rows("uptake"):
        low, mid, high = (number(row, f"{quantity}{part}_{unit}") for part in ("_low", "", "_high"))
        assert low < mid < high, row


def test_every_row_gives_a_temperature_above_the_start_of_its_ramp_and_a_possible_uptake():
    for row in load_uptake().rows.values():
        assert 40 < row.t50_c < 95
        assert 0 < row.equilibrium_frac < 1
        assert 0 < row.rate_factor <= 1


@pytest.mark.parametrize("table", ["uptake", "dye_saturation"])
def test_the_tables_say_where_they_come_from(table):
    assert provenance(table).checked_on == "2026-11-25"


def test_capacities_are_sites_times_the_dye_s_molar_mass():
    # 0.82 mol/kg (RP1286) x 450 g/mol = 369 g/kg; 0.13 mol/kg (Gleysteen and Harris) x 450 = 58.5 g/kg;
    # 0.040 mol/kg (from memory) x 450 = 18 g/kg. Rounded to two figures in the table.
    held = load_uptake().saturation_owf

    assert held[Fibre.WOOL] == pytest.approx(0.369, abs=0.005)
    assert held[Fibre.SILK] == pytest.approx(0.0585, abs=0.0006)
    assert held[Fibre.NYLON] == pytest.approx(0.018, abs=0.0005)
