"""The tables of what follows the bath: shape, ranges, order, hand-checked rows."""

import pytest

from dyewright.core.model import DyeClass, Fibre, Trust
from dyewright.data._reader import provenance
from dyewright.data.after_dyeing import load_felting, load_reactive


@pytest.mark.parametrize("table", ["reactive", "felting"])
def test_a_table_says_where_it_comes_from(table):
    assert provenance(table).checked_on == "2026-11-26"


def test_every_reactive_class_has_its_row():
    table = load_reactive()

    assert set(table) == {dye_class for dye_class in DyeClass if dye_class.is_reactive}
    assert table[DyeClass.BROMOACRYLAMIDE].cellulose is None  # made for wool
    for row in table.values():
        spans = [row.neutral_days, row.protein_fixed_frac]
        if row.cellulose is not None:
            figures = row.cellulose
            spans += [figures.half_life_min, figures.ea_kj_mol, figures.ph_order, figures.adsorption_l_kg]
            spans += [figures.bonding_over_hydrolysis]
            assert 0 < figures.unsalted_l_kg < figures.adsorption_l_kg.mid
        assert all(0 < span.low <= span.mid <= span.high for span in spans)
        assert row.protein_fixed_frac.high < 1


def test_rows_as_the_reference_notes_have_them():
    # Reference notes D: dichlorotriazine 3 h (1 to 8) at 25 °C, 80 kJ/mol (60 to 100), n 0.9 (0.7 to 1), in plain water
    # 30 d (10 to 90), on wool 0.80 (0.65 to 0.90).
    row = load_reactive()[DyeClass.DICHLOROTRIAZINE]
    figures = row.cellulose

    assert (figures.half_life_min.mid, figures.half_life_min.low, figures.half_life_min.high) == (180, 60, 480)
    assert (figures.half_life_c, figures.ea_kj_mol.mid, figures.ph_order.low) == (25, 80, 0.7)
    assert (row.neutral_days.mid, row.neutral_days.low, row.neutral_days.high) == (30, 10, 90)
    assert (row.protein_fixed_frac.mid, row.protein_fixed_frac.low, row.protein_fixed_frac.high) == (0.8, 0.65, 0.9)
    assert row.trust["protein"] is Trust.FROM_MEMORY
    # The exponent that Reactive Red 24 gives, 0.18 to 0.24, lies in the range of its class.
    hot = load_reactive()[DyeClass.MONOCHLOROTRIAZINE].cellulose.ph_order
    assert hot.low <= 0.18
    assert hot.high >= 0.24


def test_no_bonding_on_cellulose_is_called_published():
    # Reference notes D: what was read of monochlorotriazine is an amine model at pH 10, not cellulose; R is an [E].
    on_cellulose = [row for row in load_reactive().values() if row.cellulose is not None]

    assert len(on_cellulose) == 3
    assert all(row.trust["bonding"] is Trust.ESTIMATE for row in on_cellulose)


def test_only_scales_felt():
    table = load_felting()

    assert set(table) == set(Fibre)
    assert table[Fibre.WOOL].susceptibility_frac == 1.0
    assert 0.05 <= table[Fibre.WOOL].superwash_frac <= 0.1  # reference notes E
    no_scales = (Fibre.SILK, Fibre.NYLON, Fibre.COTTON, Fibre.LINEN, Fibre.VISCOSE)
    assert all(table[fibre].susceptibility_frac == table[fibre].superwash_frac == 0 for fibre in no_scales)
