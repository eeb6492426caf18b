"""Acidity: the tables the bath's chemistry reads, and the answers it gives."""

from collections.abc import Mapping
from dataclasses import dataclass

from dyewright.core.model.basis import Basis, Trust
from dyewright.core.model.card import Substance
from dyewright.core.model.fibre import Fibre
from dyewright.core.model.when import When

__all__ = [
    "AcidFamily",
    "AcidStep",
    "AcidityTables",
    "BathPh",
    "DoseAmount",
    "FibreSites",
    "IonPair",
    "Needed",
    "SubstanceFacts",
    "VinegarRule",
    "WaterAnswer",
]


@dataclass(frozen=True)
class AcidStep:
    """One dissociation at 25 °C and zero ionic strength: pK, and the enthalpy and heat capacity that move it."""

    pk: float
    enthalpy_kj_mol: float
    heat_capacity_kj_mol_k: float


@dataclass(frozen=True)
class AcidFamily:
    """An acid with its bases: `top_charge` is the charge of the form that holds every proton; steps in order."""

    name: str
    top_charge: int
    steps: tuple[AcidStep, ...]


@dataclass(frozen=True)
class IonPair:
    """Sodium paired with one form of a family, `lost` protons below its top, and how the pair comes apart."""

    family: str
    lost: int
    dissociation: AcidStep


@dataclass(frozen=True)
class FibreSites:
    """The charged groups of a fibre in mol/kg of fibre, their pK, and the water inside it.

    `strong_base` is charged at any pH of a dye bath (arginine in wool).
    """

    fibre: Fibre
    carboxyl_mol_kg: float
    carboxyl_pk: float
    histidine_mol_kg: float
    histidine_pk: float
    amine_mol_kg: float
    amine_pk: float
    strong_base_mol_kg: float
    inner_water_l_kg: float
    trust: Trust


@dataclass(frozen=True)
class SubstanceFacts:
    """An assistant: grams a mole, what a mole gives (families and "sodium", "chloride"), and how it is measured out.

    An assistant that takes no part in the acidity has no molar mass and gives nothing.
    `density_kg_l` maps the mass fraction of a solution to its density; `bulk_kg_l` is the density of the solid as a
    spoon takes it, None where it is not sold as a solid.
    """

    substance: Substance
    molar_mass_g_mol: float | None
    gives: Mapping[str, float]
    density_kg_l: Mapping[float, float]
    bulk_kg_l: float | None


@dataclass(frozen=True)
class AcidityTables:
    """All constants that the solver takes."""

    families: tuple[AcidFamily, ...]
    pairs: tuple[IonPair, ...]
    water: AcidStep
    carbon_dioxide_gas: AcidStep
    fibres: Mapping[Fibre, FibreSites]


@dataclass(frozen=True)
class DoseAmount:
    """How much of one assistant goes in, as bought.

    A solid has a mass; a solution has its volume and the mass of that volume. `is_solved` says that the amount was
    found for a target pH.
    """

    label: str
    substance: Substance
    mass_g: float
    volume_l: float | None
    when: When
    is_solved: bool


@dataclass(frozen=True)
class BathPh:
    """The pH of a bath as a meter reads a cooled sample at 25 °C, and the amounts that give it.

    `ph_before` is the water alone. `closed` is just mixed, `stripped` after twenty minutes hot and stirred, when the
    carbon dioxide has left. The lows and highs equal the middle where the water is known.
    """

    ph_closed: float
    ph_stripped: float
    ph_before: float
    ph_closed_low: float
    ph_closed_high: float
    ph_stripped_low: float
    ph_stripped_high: float
    acid_bound_mol_kg: float
    doses: tuple[DoseAmount, ...]
    notes: tuple[str, ...]
    basis: Basis


@dataclass(frozen=True)
class Needed:
    """The amount that reaches a target pH: in mL or g, and in spoons and cups where it is a liquid."""

    amount: float
    unit: str
    kitchen: str | None


@dataclass(frozen=True)
class WaterAnswer:
    """What an acid or alkali does in this water; the keys are those of `dyewright water --json`."""

    ph_closed: float
    ph_stripped: float
    ph_before: float
    ph_closed_low: float
    ph_closed_high: float
    ph_stripped_low: float
    ph_stripped_high: float
    alkalinity_meq_l: float | None
    acid_bound_mol_kg: float
    additions: tuple[DoseAmount, ...]
    needed: Needed | None
    basis: Basis
    notes: tuple[str, ...]


@dataclass(frozen=True)
class VinegarRule:
    """What the trade's usual dose of vinegar does in a bath: its volume in all and a 100 g of yarn, and the pH."""

    volume_l: float
    kitchen: str
    volume_per_100_g_l: float | None
    ph_closed: float
    ph_stripped: float
    ph_closed_low: float
    ph_closed_high: float
