"""All that the order of work is written from, and the words that its parts share."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from dyewright.core.model import (
    AssistantAmount,
    AssistantDose,
    Card,
    Caution,
    DyeAmount,
    FibreGroup,
    HeatCurve,
    PotShare,
)
from dyewright.services.assistants import caution_key
from dyewright.services.card_defaults import fibre_group
from dyewright.units import show_mass, show_volume

__all__ = ["Bench", "assistants_at", "caution_for", "dose_words", "each_pot", "listed"]


@dataclass(frozen=True)
class Bench:
    """All that the order of work is written from."""

    card: Card
    dyes: Sequence[DyeAmount]
    assistants: Sequence[AssistantAmount]
    pots: Sequence[PotShare]
    curve: HeatCurve
    preheat_min: float
    tap_water_l: float
    liquor_l: float
    rinses: int
    cautions: dict[str, Caution]

    def caution(self, *keys: str) -> str:
        """Return the sentences of some cautions, in order."""
        return " ".join(self.cautions[key].sentence for key in keys)

    @property
    def is_cellulose(self) -> bool:
        """Whether the yarn is mostly cotton, linen or viscose."""
        return fibre_group(self.card.yarn) is FibreGroup.CELLULOSE

    @property
    def is_reactive(self) -> bool:
        """Whether a reactive dye is in the bath."""
        return any(dye.dye_class.is_reactive for dye in self.card.dyes)


def each_pot(bench: Bench, values: Sequence[float], show: Callable[[float], str]) -> str:
    """Return the share of each pot as a sentence; nothing for a single pot."""
    if len(bench.pots) == 1:
        return ""
    return f" {', '.join(f'{pot.name} {show(v)}' for pot, v in zip(bench.pots, values, strict=True))}."


def assistants_at(bench: Bench, is_then: Callable[[AssistantDose], bool]) -> list[int]:
    """Return the places of the assistants that go in then, without those that are not needed."""
    return [i for i, dose in enumerate(bench.card.assistants) if is_then(dose) and bench.assistants[i].amount > 0]


def dose_words(bench: Bench, i: int) -> str:
    """Return an assistant with its amount, by weight or jug and by spoon, and the share of each pot."""
    amount = bench.assistants[i]

    def show(value: float) -> str:
        return show_volume(value / 1000) if amount.unit == "mL" else show_mass(value)

    kitchen = f" ({amount.kitchen})" if amount.kitchen else ""
    pots = each_pot(bench, [pot.assistants[i] for pot in bench.pots], show)
    return f"{show(amount.amount)}{kitchen} of {amount.name}" + (f" ({pots.strip().rstrip('.')})" if pots else "")


def listed(words: Sequence[str]) -> str:
    """Return words as a sentence lists them: "a, b and c"."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def caution_for(bench: Bench, doses: Sequence[AssistantDose], *, is_yarn_in: bool = False) -> str | None:
    """Return the cautions of some additions, with the yarn lifted out where it is in the bath."""
    keys = list(dict.fromkeys(key for dose in doses if (key := caution_key(dose))))
    if is_yarn_in:
        joined = {"acid": "lift-acid", "alkali": "lift-alkali"}
        keys = [joined[keys[0]]] if len(keys) == 1 and keys[0] in joined else ["lift", *keys]
    return bench.caution(*keys) if keys else None
