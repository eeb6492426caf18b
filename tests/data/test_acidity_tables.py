import csv
from importlib.resources import files

import pytest

from dyewright.core.model import Fibre, Strength, Substance, Trust
from dyewright.data._reader import provenance
from dyewright.data.acidity import load_acidity_tables, load_assistant_names, load_substances

TABLES = (
    "acid_constants",
    "ion_pairs",
    "fibre_acid_binding",
    "substances",
    "solution_densities",
    "assistant_names",
)


@pytest.mark.parametrize("table", TABLES)
def test_each_table_says_where_it_comes_from(table):
    origin = provenance(table)

    assert origin.reference
    assert origin.obtained
    assert {"conditions", "uncertainty", "licence"} <= origin.details.keys()


@pytest.mark.parametrize("table", TABLES)
def test_each_row_says_how_far_to_trust_it(table):
    with files("dyewright.data").joinpath(f"{table}.csv").open(encoding="utf-8", newline="") as file:
        trusts = {row["trust"] for row in csv.DictReader(file)}

    assert trusts <= set(Trust)


def test_every_substance_has_a_row():
    assert set(load_substances()) == set(Substance)


def test_salts_are_neutral():
    # A salt brings as many positive charges as negative ones when its ions stand fully apart.
    full_charge = {"sodium": 1, "chloride": -1, "acetate": -1, "carbonate": -2, "sulphate": -2, "ammonium": 1}
    for substance in (
        Substance.SODIUM_ACETATE,
        Substance.SODA_ASH,
        Substance.SODA_ASH_DECAHYDRATE,
        Substance.AMMONIUM_SULPHATE,
        Substance.GLAUBERS_SALT,
        Substance.COMMON_SALT,
    ):
        gives = load_substances()[substance].gives
        assert sum(full_charge[name] * moles for name, moles in gives.items()) == 0, substance


# Molar masses as the reference notes A give them.
@pytest.mark.parametrize(
    ("substance", "molar_mass"),
    [
        (Substance.CITRIC_ACID, 192.12),
        (Substance.SODA_ASH, 105.99),
        (Substance.SODA_ASH_DECAHYDRATE, 286.14),
        (Substance.GLAUBERS_SALT_DECAHYDRATE, 322.20),
        (Substance.AMMONIUM_SULPHATE, 132.14),
    ],
)
def test_molar_masses(substance, molar_mass):
    assert load_substances()[substance].molar_mass_g_mol == pytest.approx(molar_mass, abs=0.005)


def test_wool_is_the_published_row():
    # RP1286: 0.82 mol/kg; the groups that bind acid add up to it.
    wool = load_acidity_tables().fibres[Fibre.WOOL]

    assert wool.carboxyl_mol_kg == 0.82
    assert wool.strong_base_mol_kg + wool.histidine_mol_kg + wool.amine_mol_kg == pytest.approx(0.82)


@pytest.mark.parametrize("fibre", list(load_acidity_tables().fibres))
def test_each_fibres_bases_and_acids_balance(fibre):
    sites = load_acidity_tables().fibres[fibre]

    bases = sites.strong_base_mol_kg + sites.histidine_mol_kg + sites.amine_mol_kg
    assert bases == pytest.approx(sites.carboxyl_mol_kg)


def test_plant_fibres_bind_no_acid():
    assert not {Fibre.COTTON, Fibre.LINEN, Fibre.VISCOSE} & load_acidity_tables().fibres.keys()


def test_pks_of_an_acid_rise_from_step_to_step():
    for family in load_acidity_tables().families:
        pks = [step.pk for step in family.steps]
        assert pks == sorted(pks)


def test_names_mean_their_substance_and_strength():
    names = load_assistant_names()

    assert names["white vinegar"].usual == Strength(w_v_g_l=50.0)
    assert names["washing soda"].substance is Substance.SODA_ASH_DECAHYDRATE
    assert names["citric acid monohydrate"].usual == Strength(w_w_frac=pytest.approx(192.12 / 210.14, abs=1e-4))
