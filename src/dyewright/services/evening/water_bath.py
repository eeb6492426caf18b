"""Jars in one water bath: how it heats with all that stands in it, how they trail it, and whether they fit."""

from collections.abc import Sequence
from dataclasses import dataclass

from dyewright.core import evening as measures
from dyewright.core import heat
from dyewright.core.model import HeatCurve, Heating, Pot, Stage
from dyewright.data.practice import load_heat_sources
from dyewright.services.evening.amounts import JarAmounts
from dyewright.units import show_volume

__all__ = ["BATH_POT", "WaterBath"]

BATH_POT = Pot(volume_l=20.0, diameter_m=0.32, heating=Heating.ELECTRIC, name="a pot of 20 L, 32 cm wide")
TRIVET_M = 0.02  # common practice, no source
JAR_HEIGHT_TO_WIDTH = 1.4  # of a preserving jar of half a litre, about 12.5 cm high (estimate)


@dataclass(frozen=True)
class WaterBath:
    """A pot, jars of one size, and what is in them."""

    pot: Pot
    jar_l: float
    jars: Sequence[JarAmounts]

    @property
    def pot_name(self) -> str:
        """What the steps call the pot."""
        return self.pot.name or "the pot"

    @property
    def pot_m(self) -> float:
        """How wide the pot is, m."""
        return heat.pot_diameter_m(self.pot, load_heat_sources()[self.pot.heating])

    @property
    def fitting(self) -> int:
        """How many of these jars stand side by side."""
        return measures.jars_that_fit(self.pot_m, measures.jar_diameter_m(self.jar_l))

    @property
    def lag_min(self) -> float:
        """By how much the fullest jar trails the bath, minutes."""
        return measures.jar_lag_min(self._filled_l, measures.jar_diameter_m(self.jar_l))

    @property
    def _filled_l(self) -> float:
        return max(jar.filled_l for jar in self.jars)

    def heated(self, stages: Sequence[Stage]) -> HeatCurve:
        """Return how the bath heats with all that stands in it."""
        width_m = measures.jar_diameter_m(self.jar_l)
        around_l = measures.water_bath_l(
            measures.liquor_height_m(self._filled_l, width_m) + TRIVET_M,
            self.pot_m,
            width_m,
            min(len(self.jars), self.fitting),
        )
        inside_l = sum(jar.liquor_l for jar in self.jars)
        yarn_g = sum(float(jar.jar.mass_g) for jar in self.jars)
        source = load_heat_sources()[self.pot.heating]
        thermal = heat.thermal_pot(self.pot, source, water_l=around_l + inside_l, fibre_g=yarn_g)
        return heat.heat_curve(thermal, tuple(stages))

    def room_notes(self) -> list[str]:
        """Return whether the jars stand side by side in the pot, and under its lid."""
        count, fitting = len(self.jars), self.fitting
        height_m = self.pot.volume_l / 1000 / (self.pot_m**2 * 0.7854)
        jar_m = JAR_HEIGHT_TO_WIDTH * measures.jar_diameter_m(self.jar_l) + TRIVET_M
        name = self.pot_name[:1].upper() + self.pot_name[1:]
        notes = []
        if fitting < count:
            notes.append(
                f"{name} takes {fitting} of these jars side by side, not {count}: {show_volume(self.jar_l)} is about "
                f"{100 * measures.jar_diameter_m(self.jar_l):.0f} cm wide. Use a second pot on the same programme, or "
                "fewer jars."
            )
        if jar_m > height_m:
            notes.append(
                f"{name} is about {100 * height_m:.0f} cm high and the jars on their trivet {100 * jar_m:.0f} cm: the "
                "lid will not close, so the bath rises slower and loses water; top it up with hot water, never onto "
                "the glass."
            )
        return notes
