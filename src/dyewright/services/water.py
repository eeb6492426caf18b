"""What acids and alkalis do in the dyer's water."""

from collections.abc import Sequence

from dyewright.core.model import AssistantDose, Water, Yarn
from dyewright.core.model.acidity import BathPh

__all__ = ["bath_ph", "parse_addition", "parse_substance"]


def parse_substance(text: str) -> AssistantDose:
    """Return a dose without an amount from a name with its strength: "white vinegar 5 %", "citric acid"."""
    raise NotImplementedError(text)


def parse_addition(text: str, spoons: str = "metric") -> AssistantDose:
    """Return a dose from "white vinegar 5 %=25 mL"; `spoons` says whose kitchen measures are meant."""
    raise NotImplementedError(text, spoons)


def bath_ph(*, yarn: Yarn | None, liquor_l: float, water: Water, assistants: Sequence[AssistantDose]) -> BathPh:
    """Return the pH of a bath, with every amount resolved and the amounts for target pHs solved.

    Amounts on weight of fibre and per litre are resolved with `yarn.dry_g` and `liquor_l`. Additions for the soak are
    listed but do not count in the bath. Water with unknown alkalinity gives a range.

    Args:
        yarn: the yarn in the bath, whose fibre binds acid; None is a bath without yarn.
        liquor_l: the bath's total volume, L, above 0, additions and wetted-out yarn included.
    """
    raise NotImplementedError(yarn, liquor_l, water, assistants)
