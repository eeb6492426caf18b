"""What in a photo its colours are read from, as the dyer says it: a chart, a grey card, white paper, or nothing."""

from dataclasses import dataclass

import numpy as np

from dyewright.core.model import ChartKind
from dyewright.errors import InputError

__all__ = ["ChartChoice", "PlainChoice", "chart_from_text", "is_for_all"]

Corners = tuple[tuple[float, float], ...]

PLAIN = {"grey": ChartKind.GREY_CARD, "paper": ChartKind.WHITE_PAPER}


@dataclass(frozen=True)
class PlainChoice:
    """A grey card or white paper: its four corners in order round it, or None where the ground itself is the paper."""

    kind: ChartKind
    corners: Corners | None = None


ChartChoice = str | Corners | PlainChoice
"""How colours are read: "auto" (look for a chart), "none", a chart's four corners clockwise from the dark-skin patch,
or a plain surface."""


def chart_from_text(text: str) -> ChartChoice:
    """Return the choice from "auto", "none", "paper", "x1,y1 x2,y2 x3,y3 x4,y4", or "grey:" or "paper:" before those.

    Raises:
        InputError: none of these.
    """
    plain = text.strip().lower()
    if plain in {"auto", "none"}:
        return plain
    if plain == "paper":
        return PlainChoice(ChartKind.WHITE_PAPER)
    named, colon, rest = plain.partition(":")
    if not colon:
        return _corners(plain, text)
    if named.strip() not in PLAIN:
        raise _unknown(text)
    return PlainChoice(PLAIN[named.strip()], _corners(rest, text))


def is_for_all(choice: ChartChoice) -> bool:
    """Return whether a choice for the first of several photos holds for the others; corners are those of one photo."""
    return choice == "none" or (isinstance(choice, PlainChoice) and choice.corners is None)


def _corners(plain: str, text: str) -> Corners:
    try:
        corners = tuple((float(x), float(y)) for x, y in (corner.split(",") for corner in plain.split()))
    except ValueError:
        raise _unknown(text) from None
    if len(corners) != 4 or not np.all(np.isfinite(corners)):
        raise _unknown(text)
    return corners


def _unknown(text: str) -> InputError:
    return InputError(
        f"the chart {text!r} is neither auto, none, paper (the skeins lie on white paper) nor four corners "
        "x1,y1 x2,y2 x3,y3 x4,y4: of a 24-patch chart clockwise from the dark-skin patch, or of a grey card or a piece "
        "of white paper with grey: or paper: before them",
        field="chart",
        value=text,
    )
