"""How far the handling of wet wool risks felting it: a ranking, never a promise.

Every movement adds strength x number x e^((T - 20)/30) x the bath's acidity; the fibre scales the sum. It is divided by
that of a usual dyeing of untreated wool, so that 1 is usual. The form and its numbers are estimates; published is:
[1] Milling shrinkage is greater in acid and in alkali than in water (Nature 154 (1944) 772): acid protects nothing.
[2] Untreated wool felts the more the lower the pH (2 to 10), treated wool little, and alike above pH 5 (abstract of
"The effect of pH and detergents on the felting of shrink-resistant wool").
That a sudden change of temperature felts by itself, without movement, is folklore as far as we know (from memory).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.model import Drain, Handling

__all__ = [
    "DRAIN_STRENGTH",
    "HANDLING_STRENGTH",
    "LIFTS_A_WATER",
    "SOAP_FACTOR",
    "STILL_STRENGTH",
    "USUAL_FELTING",
    "Movement",
    "felting_index",
    "felting_of_movement",
    "felting_rating",
    "felting_shares",
]

# Strength of one movement: estimates. A lift or a turn on a rod is the unit.
STILL_STRENGTH = 0.05  # a minute of lying in a bath that is only moved by its own heat
HANDLING_STRENGTH = {Handling.STILL: 0.05, Handling.LIFTED: 1.0, Handling.SWISHED: 3.0, Handling.UNDER_THE_TAP: 6.0}
DRAIN_STRENGTH = {Drain.DRIPPING: 0.0, Drain.SQUEEZED: 1.0, Drain.SPUN: 0.5}
SOAP_FACTOR = 1.3  # detergent raises felting at every pH [2]; by how much is an estimate
LIFTS_A_WATER = 5.0  # movements, or minutes of lying, in one rinse; estimate
WARMTH_C = 30.0  # felting goes up e-fold; estimate
ROOM_C = 20.0
# The sum for untreated wool at 30 L/kg on the usual programme: 40 to 96 °C at 1 °C a minute, 45 minutes there, cooled
# under a lid to 40 °C, turned every 5 minutes at pH 5, two waters at 40 °C lifted and squeezed. A test works it out.
USUAL_FELTING = 315.0
SOME, HIGH = 0.6, 1.5  # estimates: below a usual dyeing, clearly above one


@dataclass(frozen=True)
class Movement:
    """One kind of movement: the `part` of the work it belongs to, its strength times how often, and the bath then.

    `strength` and `at_c` may be arrays that belong together: movement along a heating programme.
    """

    part: str
    strength: ArrayLike
    at_c: ArrayLike
    ph: float


def felting_of_movement(at_c: ArrayLike, ph: ArrayLike) -> NDArray[np.float64]:
    """Return how far one movement of unit strength felts untreated wool, over the same at 20 °C and pH 7.

    Acidity counts 1 at pH 7, up to 1.3 at pH 4 and below and at pH 9 and above, linear between (estimate, after [1]).
    """
    acidity = np.interp(np.asarray(ph, float), [4.0, 7.0, 9.0], [1.3, 1.0, 1.3])
    felts: NDArray[np.float64] = acidity * np.exp((np.asarray(at_c, float) - ROOM_C) / WARMTH_C)
    return felts


def felting_shares(movements: Iterable[Movement], susceptibility_frac: float) -> tuple[tuple[str, float], ...]:
    """Return what each part of the work adds to the index, in the order of the work.

    Args:
        movements: in order.
        susceptibility_frac: of the yarn, untreated wool being 1 and silk, nylon and cellulose 0.
    """
    shares: dict[str, float] = {}
    for one in movements:
        moved = float(np.sum(np.asarray(one.strength, float) * felting_of_movement(one.at_c, one.ph)))
        shares[one.part] = shares.get(one.part, 0.0) + susceptibility_frac * moved / USUAL_FELTING
    return tuple(shares.items())


def felting_index(shares: Sequence[tuple[str, float]]) -> float:
    """Return the index of the whole work: 0 where nothing felts, 1 for a usual dyeing of untreated wool."""
    return sum(share for _, share in shares)


def felting_rating(index: float) -> str:
    """Return the index in words.

    Args:
        index: as `felting_index` gives it.
    """
    if index <= 0:
        return "does not felt"
    return "low" if index < SOME else "some" if index < HIGH else "high"
