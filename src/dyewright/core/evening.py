"""Small measures of a swatch evening: syringe doses, the stocks they come from, jars in a water bath, tags in a photo.

Sources: [1] R. L. Graham, B. D. Lubachevsky, K. J. Nurmela and P. R. J. Östergård, Discrete Mathematics 181 (1998)
139-154: the smallest circle round n equal ones (ratios from memory; up to 9 and 11 they follow from a ring of circles,
1 + 1 / sin(pi / n), with one in the middle from 7 on).
[2] A jar in a stirred bath follows it as a first-order body (Newton's law of cooling), any text on heat transfer.
[3] S. B. Needleman and C. D. Wunsch, J. Mol. Biol. 48 (1970) 443-453 (from memory).
Sizes of jars and syringes are common practice, no source, unless said.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from dyewright.core.bath import STOCK_VOLUMES_L, WEIGHING_LIMIT_FRAC
from dyewright.core.model import StockHint
from dyewright.errors import InputError

__all__ = [
    "LEAST_DRAWN_L",
    "SYRINGE_STEP_L",
    "dose_strength_g_l",
    "drawn_l",
    "jar_diameter_m",
    "jar_lag_min",
    "jars_that_fit",
    "liquor_height_m",
    "matched_in_order",
    "reading_order",
    "stock_to_mix",
    "trailing_min",
    "water_bath_l",
]

SYRINGE_STEP_L = 0.0001  # 0.1 mL, the mark of a 5 or 10 mL syringe
LEAST_DRAWN_L = 0.0005  # below 0.5 mL half a mark is a tenth of the dose
WEAKEST_G_L = 0.1  # 0.01 %: a weaker stock is hardly coloured
SPARE_FRAC = 0.1  # of a stock stays in the jar and the syringe (estimate)
ROUND_UP_L = 0.5  # above the usual jars a stock is made by the half litre

USUAL_JAR_L, USUAL_JAR_M = 0.5, 0.09  # a preserving jar of half a litre is about 9 cm wide (estimate)
GLASS_M, GLASS_W_M_K = 0.003, 1.0  # of its wall: thickness (estimate), conductivity of glass (from memory)
FILM_W_M2_K = 500.0  # from water to glass by free convection (estimate)
WATER_KJ_KG_K = 4.186  # from memory, as in core.heat
CLOSE_C = 2.0  # a jar this near the bath counts as having arrived (estimate)

_RING_RATIOS = (1.0, 2.0, 2.155, 2.415, 2.702, 3.0, 3.0, 3.305, 3.614, 3.814, 3.924, 4.030)
"""Width of the smallest pot round 1 to 12 jars, in widths of a jar [1], rounded up."""


def dose_strength_g_l(dye_g: float, stock_g_l: float) -> float:
    """Return the strength of the stock that a dose is drawn from, g/L: a tenth or a hundredth where it would be tiny.

    The strongest of the stock and its dilutions whose dose is 0.5 mL or more, the weakest that is 0.01 % or more
    where none is.
    """
    strength = stock_g_l
    while dye_g / strength < LEAST_DRAWN_L * (1 - 1e-9) and strength / 10 >= WEAKEST_G_L * (1 - 1e-9):
        strength /= 10
    return strength


def drawn_l(volume_l: float) -> float:
    """Return a dose as a syringe draws it, L: to the nearest 0.1 mL, and no less than one mark of some."""
    if volume_l <= 0:
        return 0.0
    marks = max(1, math.floor(volume_l / SYRINGE_STEP_L + 0.5 + 1e-9))
    return round(marks * SYRINGE_STEP_L, 7)


def stock_to_mix(taken_l: float, stock_g_l: float, scale_resolution_g: float) -> StockHint:
    """Return the stock that some doses are taken from: enough with a little over, and its powder fit for the scale.

    The smallest usual jar that holds both, else the next half litre.
    """
    least_l = max(taken_l * (1 + SPARE_FRAC), scale_resolution_g / WEIGHING_LIMIT_FRAC / stock_g_l)
    rounded = math.ceil(least_l / ROUND_UP_L - 1e-9) * ROUND_UP_L
    volume_l = next((jar for jar in STOCK_VOLUMES_L if jar >= least_l * (1 - 1e-9)), rounded)
    return StockHint(stock_g_l=stock_g_l, volume_l=volume_l, powder_g=stock_g_l * volume_l)


def jar_diameter_m(jar_l: float) -> float:
    """Return how wide a preserving jar is outside, m, from its volume and the usual shape (estimate)."""
    if not jar_l > 0:
        raise InputError(f"a jar holds more than 0 L, got {jar_l:g} L", field="jar", value=jar_l, limit=0.0)
    return USUAL_JAR_M * math.cbrt(jar_l / USUAL_JAR_L)


def jars_that_fit(pot_diameter_m: float, jar_diameter_m: float) -> int:
    """Return how many jars stand side by side in a round pot, up to 12 [1]; 0 where not even one does."""
    ratio = pot_diameter_m / jar_diameter_m
    return sum(ratio >= needed - 1e-9 for needed in _RING_RATIOS)


def liquor_height_m(filled_l: float, jar_diameter_m: float) -> float:
    """Return how high liquor and yarn stand in a jar, m; the wall takes a little of its width."""
    inside_m2 = math.pi / 4 * (jar_diameter_m - 2 * GLASS_M) ** 2
    return filled_l / 1000 / inside_m2


def water_bath_l(height_m: float, pot_diameter_m: float, jar_diameter_m: float, jars: int) -> float:
    """Return the water that stands round the jars up to a height, L; 0 where they leave no room."""
    around_m2 = math.pi / 4 * (pot_diameter_m**2 - jars * jar_diameter_m**2)
    return max(0.0, 1000 * around_m2 * height_m)


def jar_lag_min(filled_l: float, jar_diameter_m: float) -> float:
    """Return by how many minutes a jar's liquor trails the water round it: its heat over what its wall lets in.

    The time constant of [2], with free convection on both sides of the glass; the estimates make it sure to half.
    """
    wall_w_m2_k = 1 / (2 / FILM_W_M2_K + GLASS_M / GLASS_W_M_K)
    inside_m = jar_diameter_m - 2 * GLASS_M
    wetted_m2 = math.pi * inside_m * (inside_m / 4 + liquor_height_m(filled_l, jar_diameter_m))
    return 1000 * WATER_KJ_KG_K * filled_l / (wall_w_m2_k * wetted_m2) / 60


def trailing_min(lag_min: float, rise_c_per_min: float) -> float:
    """Return how long after the bath a jar comes within 2 °C of it, at the end of a steady rise.

    The jar is then lag times rise behind [2], and gains on the bath as exp(-t / lag).
    """
    behind_c = lag_min * rise_c_per_min
    return lag_min * math.log(behind_c / CLOSE_C) if behind_c > CLOSE_C else 0.0


def reading_order(outlines_px: Sequence[Sequence[tuple[float, float]]]) -> tuple[int, ...]:
    """Return the places of some outlines in reading order: row by row from the top, each from left to right.

    An outline belongs to the row whose first one it overlaps in height by its middle.
    """
    boxes = [_span(outline) for outline in outlines_px]
    rows: list[list[int]] = []
    for place in sorted(range(len(boxes)), key=lambda i: boxes[i][1]):
        middle = (boxes[place][1] + boxes[place][2]) / 2
        row = next((row for row in rows if boxes[row[0]][1] <= middle <= boxes[row[0]][2]), None)
        if row is None:
            rows.append([place])
        else:
            row.append(place)
    return tuple(place for row in rows for place in sorted(row, key=lambda i: boxes[i][0]))


def matched_in_order(costs: ArrayLike) -> tuple[int | None, ...]:
    """Return the place of each row's column where both keep their order and the sum of costs is least.

    As many are matched as the shorter side has: a row without a column is None. This is the alignment of two
    sequences by dynamic programming [3], here without a price for gaps.

    Args:
        costs: what it costs to match a row with a column, shape (m, n).
    """
    table = np.asarray(costs, float)
    if len(table) > table.shape[1]:
        of_column = matched_in_order(table.T)
        return tuple(of_column.index(row) if row in of_column else None for row in range(len(table)))
    rows, columns = table.shape
    least = np.full((rows + 1, columns + 1), np.inf)
    least[0] = 0.0
    for row in range(1, rows + 1):
        for column in range(row, columns + 1):
            taken = least[row - 1, column - 1] + table[row - 1, column - 1]
            least[row, column] = min(least[row, column - 1], taken)
    found, column = [0] * rows, columns
    for row in range(rows, 0, -1):
        while least[row, column - 1] == least[row, column]:
            column -= 1
        column -= 1
        found[row - 1] = column
    return tuple(found)


def _span(outline: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    """Return the middle from left to right, the top and the bottom of an outline."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return (min(xs) + max(xs)) / 2, min(ys), max(ys)
