"""The constants of the acidity model, and the assistants by name."""

from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from dyewright.core.model import Fibre, Strength, Substance, Trust
from dyewright.core.model.acidity import AcidFamily, AcidityTables, AcidStep, FibreSites, IonPair, SubstanceFacts
from dyewright.data._reader import Row, number, optional_number, rows

__all__ = ["AssistantName", "load_acidity_tables", "load_assistant_names", "load_substances"]

GIVEN = ("acetate", "formate", "citrate", "carbonate", "ammonium", "sulphate", "sodium", "chloride")
NOT_FAMILIES = ("water", "carbon dioxide gas")


@dataclass(frozen=True)
class AssistantName:
    """A name used at the bench: its substance, whether a bare percentage is w/w, and the usual strength if any."""

    name: str
    substance: Substance
    is_percent_w_w: bool
    usual: Strength | None

    def strength(self, strength_frac: float, *, is_w_w: bool | None = None) -> Strength:
        """Return the strength that a percentage beside the name means; `is_w_w` None leaves it to the name."""
        if self.is_percent_w_w if is_w_w is None else is_w_w:
            return Strength(w_w_frac=strength_frac)
        return Strength(w_v_g_l=strength_frac * 1000)


@cache
def load_acidity_tables() -> AcidityTables:
    """Return the dissociation constants, ion pairs and fibre groups that the bath's chemistry takes."""
    constants = rows("acid_constants")
    names = dict.fromkeys(row["family"] for row in constants if row["family"] not in NOT_FAMILIES)
    water, gas = ([_step(row) for row in constants if row["family"] == name] for name in NOT_FAMILIES)
    fibres = {sites.fibre: sites for sites in map(_fibre_sites, rows("fibre_acid_binding"))}
    return AcidityTables(
        families=tuple(_family(name, [row for row in constants if row["family"] == name]) for name in names),
        pairs=tuple(_pair(row) for row in rows("ion_pairs")),
        water=water[0],
        carbon_dioxide_gas=gas[0],
        fibres=MappingProxyType(fibres),
    )


@cache
def load_substances() -> MappingProxyType[Substance, SubstanceFacts]:
    """Return what each assistant is and gives to the bath."""
    densities: dict[str, dict[float, float]] = {}
    for row in rows("solution_densities"):
        densities.setdefault(row["substance"], {})[number(row, "mass_frac")] = number(row, "density_kg_l")
    found = {}
    for row in rows("substances"):
        substance = Substance(row["substance"])
        found[substance] = SubstanceFacts(
            substance=substance,
            molar_mass_g_mol=optional_number(row, "molar_mass_g_mol"),
            gives=MappingProxyType({name: number(row, name) for name in GIVEN if number(row, name)}),
            density_kg_l=MappingProxyType(densities.get(row["substance"], {})),
            bulk_kg_l=optional_number(row, "bulk_kg_l"),
        )
    return MappingProxyType(found)


@cache
def load_assistant_names() -> MappingProxyType[str, AssistantName]:
    """Return the assistants by the lower-case names they go by."""
    found = {}
    for row in rows("assistant_names"):
        name = AssistantName(row["name"], Substance(row["substance"]), row["percent_means"] == "w/w", None)
        usual_percent = optional_number(row, "usual_percent")
        usual = None if usual_percent is None else name.strength(usual_percent / 100)
        found[row["name"].casefold()] = AssistantName(name.name, name.substance, name.is_percent_w_w, usual)
    return MappingProxyType(found)


def _step(row: Row) -> AcidStep:
    return AcidStep(number(row, "pk"), number(row, "enthalpy_kj_mol"), number(row, "heat_capacity_j_mol_k") / 1000)


def _family(name: str, steps: list[Row]) -> AcidFamily:
    in_order = sorted(steps, key=lambda row: number(row, "step"))
    return AcidFamily(name, int(number(in_order[0], "top_charge")), tuple(_step(row) for row in in_order))


def _pair(row: Row) -> IonPair:
    # A pair comes apart with the association's log K as its pK, and the association's enthalpy turned round.
    apart = AcidStep(number(row, "log_k"), -number(row, "enthalpy_kj_mol"), 0.0)
    return IonPair(row["family"], int(number(row, "lost_protons")), apart)


def _fibre_sites(row: Row) -> FibreSites:
    return FibreSites(
        fibre=Fibre(row["fibre"]),
        carboxyl_mol_kg=number(row, "carboxyl_mol_kg"),
        carboxyl_pk=number(row, "carboxyl_pk"),
        histidine_mol_kg=number(row, "histidine_mol_kg"),
        histidine_pk=number(row, "histidine_pk"),
        amine_mol_kg=number(row, "amine_mol_kg"),
        amine_pk=number(row, "amine_pk"),
        strong_base_mol_kg=number(row, "strong_base_mol_kg"),
        inner_water_l_kg=number(row, "inner_water_l_kg"),
        trust=Trust(row["trust"]),
    )
