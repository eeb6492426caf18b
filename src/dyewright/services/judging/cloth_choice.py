"""What was chosen on the page of the cloth, read from its form."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from dyewright.core.cloth import Feeding, Knitting
from dyewright.errors import InputError
from dyewright.units import length_m

__all__ = ["USUAL", "Choice", "ClothWay", "read_choice"]

# What the form begins with; limits keep a picture to what a screen shows and is drawn at once.
USUAL = {"way": "plain", "stitches": "40", "rows": "60", "gauge": "22", "knit": "flat", "turn": "1.5 m"}
LIMITS = {"stitches": (4, 160), "rows": (4, 160), "gauge": (8, 60)}
NAMES = {"stitches": "stitches in a row", "rows": "rows", "gauge": "stitches to 10 cm"}
TURN_LIMITS_M = (0.3, 4.0)


class ClothWay(StrEnum):
    """What is done with the skeins before they are knitted."""

    PLAIN = "plain"
    ALTERNATE = "alternate"
    RESKEIN = "re-skein"


@dataclass(frozen=True)
class Choice:
    """What was asked for on the page of the cloth."""

    skeins: tuple[int, ...]
    way: ClothWay
    knitting: Knitting
    turn_m: float


def read_choice(filled: Mapping[str, str], skeins: Iterable[int]) -> Choice:
    """Return the choice of a form in which every field of USUAL and `skeins` is filled.

    Raises:
        InputError: a field cannot be read or lies out of its limits; `field` names it.
    """
    way = next((way for way in ClothWay if way.value == filled["way"]), None)
    if way is None:
        raise InputError(
            f"the way {filled['way']!r} is none of plain, alternate, re-skein: choose one",
            field="way",
            value=filled["way"],
        )
    knitting = Knitting(
        stitches=round(_number(filled, "stitches")),
        rows=round(_number(filled, "rows")),
        gauge=_number(filled, "gauge"),
        is_round=filled["knit"] == "round",
        feeding=Feeding.ALTERNATE if way is ClothWay.ALTERNATE else Feeding.ONE_AFTER_OTHER,
    )
    return Choice(_numbers(filled["skeins"], skeins), way, knitting, _turn_m(filled["turn"]))


def _numbers(text: str, skeins: Iterable[int]) -> tuple[int, ...]:
    known = tuple(skeins)
    parts = [part.strip() for part in text.replace(" ", ",").split(",") if part.strip()]
    astray = next((part for part in parts if not part.isdigit() or int(part) not in known), None)
    if astray is not None or not parts:
        have = ", ".join(str(number) for number in known) or "none"
        raise InputError(
            f"the skeins {text!r} are not those of this verdict ({have}): name them as 1,3", field="skeins", value=text
        )
    return tuple(dict.fromkeys(int(part) for part in parts))


def _number(filled: Mapping[str, str], name: str) -> float:
    low, high = LIMITS[name]
    try:
        value = float(filled[name].strip().replace(",", "."))
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise InputError(
            f"{NAMES[name]}: {filled[name]!r} is no number from {low} to {high}, which are drawn",
            field=name,
            value=filled[name],
            limit=(low, high),
        )
    return value


def _turn_m(text: str) -> float:
    turn = length_m(text, field="turn", thing="one turn of the skein", default_unit="m")
    low, high = TURN_LIMITS_M
    if not low <= turn <= high:
        raise InputError(
            f"one turn of the skein is {turn:g} m; from {low:g} to {high:g} m: measure once round the open skein",
            field="turn",
            value=turn,
            limit=(low, high),
        )
    return turn
