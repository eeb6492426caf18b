"""How dyes go onto fibres: the types of the shipped tables `uptake` and `dye_saturation`."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from dyewright.core.model.basis import Trust
from dyewright.core.model.dye import DyeClass
from dyewright.core.model.fibre import Fibre

__all__ = ["UptakeRow", "UptakeTables"]


@dataclass(frozen=True)
class UptakeRow:
    """One class of dye on one fibre, untreated.

    `t50_c` is what a dyer can watch: the temperature at which half of the final uptake is reached on a ramp of
    1 °C/min from 40 °C at 30 L/kg; the rate constant is derived from it. `rate_factor` multiplies that constant (thick
    fibres are slower). `equilibrium_frac` is the final uptake at 30 L/kg, 95 °C and `ph_ref`, kept while T50 is turned
    into the rate. `k0_l_kg`, `z` and `theta0` give the equilibrium at another pH; `k0_l_kg` None: it does not follow
    pH. `trust` says of each group of numbers where it comes from.
    """

    fibre: Fibre
    dye_class: DyeClass
    t50_c: float
    ea_kj_mol: float
    rate_factor: float
    equilibrium_frac: float
    ph_ref: float
    k0_l_kg: float | None
    z: float
    theta0: float
    trust: Mapping[str, Trust] = field(default_factory=dict)


@dataclass(frozen=True)
class UptakeTables:
    """The rows by fibre and class, and how much pure dye a fibre can hold as a fraction of its mass."""

    rows: Mapping[tuple[Fibre, DyeClass], UptakeRow]
    saturation_owf: Mapping[Fibre, float]
