"""The tables of practice: shape, ranges, one hand-checked row each, provenance."""

from itertools import combinations

import pytest

from dyewright.core.model import (
    ClassGroup,
    Company,
    CoolTo,
    Drain,
    Enter,
    Fibre,
    FibreGroup,
    Heating,
    Hold,
    Substance,
    To,
)
from dyewright.data import practice
from dyewright.data._reader import provenance


@pytest.mark.parametrize(
    "table", ["fibre_water", "heat_sources", "practice", "practice_doses", "stock_life", "cautions"]
)
def test_every_table_says_where_it_comes_from(table):
    origin = provenance(table)
    assert origin.checked_on == "2026-11-25"
    assert {"licence", "conditions", "uncertainty"} <= origin.details.keys()


def test_every_fibre_has_its_water():
    waters = practice.load_fibre_waters()
    assert set(waters) == set(Fibre)
    for row in waters.values():
        assert 0 < row.regain_frac < 0.2
        assert row.retention_l_kg[Drain.SPUN] < row.retention_l_kg[Drain.SQUEEZED] < row.retention_l_kg[Drain.DRIPPING]
        assert 1.1 < row.density_kg_l < 1.6
    # the project's reference notes, E: silk keeps 0.9 of wool's 1.5 L/kg when squeezed
    assert waters[Fibre.SILK].retention_l_kg[Drain.SQUEEZED] == pytest.approx(0.9 * 1.5)


def test_every_kind_of_heat_has_its_efficiency():
    sources = practice.load_heat_sources()
    assert set(sources) == set(Heating)
    assert all(0 < s.efficiency_frac <= 1 and 300 < s.default_power_w < 5000 for s in sources.values())
    assert all(bool(s.note) for s in sources.values() if s.is_rough)
    # US DOE tests, as quoted by secondary pages: induction 84 %
    assert sources[Heating.INDUCTION].efficiency_frac == pytest.approx(0.84)


def test_every_fibre_and_class_has_a_practice():
    practices = practice.load_practices()
    assert set(practices) == {(fibre, dye_class) for fibre in FibreGroup for dye_class in ClassGroup}
    for row in practices.values():
        temperatures = [s.at_c if isinstance(s, Enter) else s.to_c for s in row.stages if isinstance(s, Enter | To)]
        assert temperatures == sorted(temperatures)
        assert 15 <= row.liquor_l_kg <= 50
        assert row.doses
        for dose in row.doses:
            assert sum(v is not None for v in (dose.target_ph, dose.owf, dose.bath_g_l)) == 1


def test_superwash_enters_cool_and_stays_below_ninety():
    # Cookson, Hine and McPhee, JSDC 1964: 85 to 90 °C is enough for milling and 1:2 dyes
    row = practice.load_practices()[FibreGroup.SUPERWASH, ClassGroup.MILLING]
    assert row.stages == (Enter(30), To(75, 0.5), To(88, 1), Hold(40), CoolTo(40))


def test_hot_reactive_dye_on_cotton_takes_the_published_salt():
    # Hindawi J. (2016) 9739380, table 2: 1.5 % shade 50 g/L Glauber's salt and 15 g/L soda ash
    doses = practice.load_practices()[FibreGroup.CELLULOSE, ClassGroup.REACTIVE_HOT].doses
    assert [(d.substance, d.bath_g_l) for d in doses] == [(Substance.GLAUBERS_SALT, 50), (Substance.SODA_ASH, 15)]


def test_milling_dyes_never_get_salt():
    # Broadbent (2001) p. 246: Glauber's salt is never added to milling dyes
    for (_, dye_class), row in practice.load_practices().items():
        if dye_class in {ClassGroup.MILLING, ClassGroup.METAL_COMPLEX}:
            assert all(dose.substance is not Substance.GLAUBERS_SALT for dose in row.doses)


def test_stocks_of_reactive_dyes_spoil():
    lives = practice.load_stock_lives()
    assert all(dye_class.is_reactive and life.days > 0 for dye_class, life in lives.items())


def test_cautions_are_sentences_with_a_source():
    for caution in practice.load_cautions().values():
        assert caution.sentence.endswith(".")
        assert caution.source


def test_the_design_s_cautions_are_all_there():
    # the design's list of usual cautions, word by word where the word matters
    everything = " ".join(caution.sentence for caution in practice.load_cautions().values())
    for words in (
        "fitted particulate respirator",
        "sensitise the lungs for life",
        "never speckle",
        "no fan",
        "does nothing against acid vapour",
        "Add acid to water",
        "caustic to eyes",
        "harm wool",
        "Never near bleach",
        "Never carry or pour a hot pot",
        "on a rod",
        "under its lid",
        "below 40 °C",
        "never used for food again",
        "as local rules say",
        "licensed practice decide",
    ):
        assert words in everything


def test_every_two_groups_of_classes_are_said_to_go_together_or_not():
    table = practice.load_dye_company()
    assert set(table) == {frozenset(pair) for pair in combinations(ClassGroup, 2)}
    assert all(bool(row.reason) is (row.company is not Company.TOGETHER) for row in table.values())
    # By hand from the usual programmes: fixed at 25 °C against 80 °C; pH 5 to 6.5 for both.
    assert table[frozenset({ClassGroup.REACTIVE_COLD, ClassGroup.REACTIVE_HOT})].company is Company.APART
    assert table[frozenset({ClassGroup.MILLING, ClassGroup.METAL_COMPLEX})].company is Company.TOGETHER
    assert provenance("dye_company").details.keys() >= {"licence", "conditions", "uncertainty"}
