"""What a recipe has to keep to: dyes that must or must not be in it, depths, cost, the lights of the match."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dyewright.core.mixing import ShelfModel, build_up
from dyewright.errors import InputError

__all__ = ["DEEPEST_OWF", "LEAST_OWF", "MOST_DYES", "TOTAL_OWF", "Limits", "Room", "room_on"]

Array = NDArray[np.float64]
Dyes = NDArray[np.intp]

DEEPEST_OWF = 0.04
"""No dye of a recipe goes deeper, as a fraction: 4 % is a full black or navy (common practice, no source)."""
TOTAL_OWF = 0.08
"""All dyes of a recipe together, as a fraction: beyond 8 % wool leaves more and more in the bath (common practice)."""
LEAST_OWF = 2e-5
"""0.002 %: a dye below this does nothing but cost a weighing (estimate)."""
MOST_DYES = 4


@dataclass(frozen=True)
class Limits:
    """What every recipe of a search keeps to; dyes by their names on the shelf.

    `deepest_owf` bounds each dye, `most_owf` single ones (what is left in the tub, or a dye's own ceiling), `total_owf`
    all dyes of a recipe together (None: no bound). `least_owf` is the least dose of a dye that can be measured. `apart`
    holds pairs of names that do not go into one bath. `most_cost_per_kg` bounds the dyes' cost for a kilogram of yarn
    by `price_per_g`; a dye without a price then stays out. `lights` are looked at together where the target is a
    curve, daylight first. `is_every_combination` tries all combinations of four too instead of the promising ones, and
    gives none up early.
    """

    max_dyes: int = 3
    deepest_owf: float = DEEPEST_OWF
    most_owf: Mapping[str, float] = field(default_factory=dict)
    total_owf: float | None = TOTAL_OWF
    least_owf: Mapping[str, float] = field(default_factory=dict)
    must_use: frozenset[str] = frozenset()
    never_use: frozenset[str] = frozenset()
    apart: frozenset[frozenset[str]] = frozenset()
    price_per_g: Mapping[str, float] = field(default_factory=dict)
    most_cost_per_kg: float | None = None
    lights: tuple[str, ...] = ("D65", "A", "FL11")
    is_every_combination: bool = False


@dataclass(frozen=True)
class Room:
    """The limits as a shelf's numbers: bounds in built-up depth (n,), and which dyes may, must and cannot meet."""

    least: Array
    most: Array
    may: Dyes
    must: Dyes
    is_apart: NDArray[np.bool_]


def room_on(shelf: ShelfModel, limits: Limits) -> Room:
    """Return the room that limits leave on a shelf.

    A dye of which less is left than can be measured drops out.

    Raises:
        InputError: a name that is not on the shelf, a number that cannot be, or limits that leave no recipe.
    """
    _check_numbers(limits)
    _check_names(shelf, limits)
    least_owf = np.array([max(limits.least_owf.get(name, 0.0), LEAST_OWF) for name in shelf.dyes])
    most_owf = np.array([min(limits.most_owf.get(name, np.inf), limits.deepest_owf) for name in shelf.dyes])
    is_in = np.array([name not in limits.never_use for name in shelf.dyes]) & (least_owf <= most_owf)
    if limits.most_cost_per_kg is not None:
        is_in &= np.array([name in limits.price_per_g for name in shelf.dyes])
    must = np.array([place for place, name in enumerate(shelf.dyes) if name in limits.must_use], dtype=np.intp)
    _check_musts(shelf, limits, must, is_in)
    if not is_in.any():
        raise InputError("the limits leave no dye of this shelf: take one of them away", field="never")
    return Room(
        least=build_up(shelf, least_owf),
        most=build_up(shelf, most_owf),
        may=np.flatnonzero(is_in),
        must=must,
        is_apart=_apart(shelf, limits),
    )


def _check_numbers(limits: Limits) -> None:
    if not 1 <= limits.max_dyes <= MOST_DYES:
        raise InputError(
            f"a recipe of {limits.max_dyes} dyes was asked for; it can have 1 to {MOST_DYES}",
            field="max_dyes",
            value=limits.max_dyes,
            limit=MOST_DYES,
        )
    for field_name, thing, depth in (
        ("deepest", "the deepest that one dye may go", limits.deepest_owf),
        ("total", "all dyes of a recipe together", limits.total_owf),
    ):
        if depth is not None and not 0 < depth <= 1:
            raise InputError(
                f"{thing} was given as {100 * depth:g} %; it lies above 0 % and up to 100 %",
                field=field_name,
                value=depth,
                limit=1.0,
            )


def _check_names(shelf: ShelfModel, limits: Limits) -> None:
    for field_name, names in (("must", limits.must_use), ("never", limits.never_use)):
        for name in sorted(names):
            if name not in shelf.dyes:
                raise InputError(
                    f"dye {name!r} has no swatch on this shelf; it knows {', '.join(shelf.dyes)}",
                    field=field_name,
                    value=name,
                )


def _check_musts(shelf: ShelfModel, limits: Limits, must: Dyes, is_in: NDArray[np.bool_]) -> None:
    if len(must) > limits.max_dyes:
        raise InputError(
            f"{len(must)} dyes must be in the recipe, which may have {limits.max_dyes}: allow more, or ask for fewer",
            field="must",
            value=len(must),
            limit=limits.max_dyes,
        )
    for place in must.tolist():
        name = shelf.dyes[place]
        if not is_in[place]:
            raise InputError(
                f"{name} must be in the recipe, but another limit keeps it out (never used, too little left to be "
                "measured, or no price beside a limit of cost): take one of the two away",
                field="must",
                value=name,
            )
    for pair in limits.apart:
        if len(pair) == 2 and pair <= limits.must_use:
            raise InputError(
                f"{' and '.join(sorted(pair))} must both be in the recipe, but do not go into one bath: ask for one",
                field="must",
            )


def _apart(shelf: ShelfModel, limits: Limits) -> NDArray[np.bool_]:
    """Return which two dyes (n, n) do not go together; pairs of dyes that are not on the shelf matter to nobody."""
    matrix = np.zeros((len(shelf.dyes), len(shelf.dyes)), dtype=bool)
    for pair in limits.apart:
        if len(pair) == 2 and pair <= set(shelf.dyes):
            one, two = (shelf.dyes.index(name) for name in pair)
            matrix[one, two] = matrix[two, one] = True
    return matrix
