"""Which skeins go to which order, where each order needs some that match.

Up to EXACT_UP_TO skeins every way of sharing them out is looked at, by dynamic programming over the sets of skeins that
are given already: R. Bellman, Dynamic Programming, Princeton University Press (1957). What is best comes in this order:
as many orders filled as can be, the earlier ones of the list before the later, the widest difference inside an order as
small as can be, and then the sum of these.
"""

from collections.abc import Callable, Mapping, Sequence
from itertools import combinations
from operator import add

from dyewright.core.model import Assignment, PairDifference
from dyewright.core.skeins.verdict import listed
from dyewright.errors import InputError

__all__ = ["EXACT_UP_TO", "assign"]

EXACT_UP_TO = 12  # skeins; beyond, orders are filled one after the other, each with the closest that are left

Differences = Mapping[frozenset[int], float]
Given = tuple[int, ...]
_Standing = tuple[float, ...]
_Share = tuple[_Standing, tuple[int, ...]]


def assign(
    ids: Sequence[int],
    pairs: Sequence[PairDifference],
    orders: Sequence[int],
    tolerance_de00: float,
    sets: Sequence[Sequence[int]] = (),
) -> Assignment:
    """Return the skeins of each order; inside an order no two differ by more than the tolerance.

    Args:
        ids: the skeins at hand.
        pairs: how each two of them differ.
        orders: how many skeins each order needs, in the order of asking.
        tolerance_de00: ΔE00 within which skeins match.
        sets: those that were found to match; two of one set do, even where they measure a little more.

    Raises:
        InputError: no order, or one of less than one skein.
    """
    _check(orders)
    together = {frozenset(two) for group in sets for two in combinations(group, 2)}
    differences = {
        two: min(pair.de00, tolerance_de00) if two in together else pair.de00
        for pair in pairs
        for two in [frozenset((pair.a, pair.b))]
    }
    share = _exact if len(ids) <= EXACT_UP_TO else _greedy
    filled = share(sorted(ids), differences, orders, tolerance_de00)
    given = {skein for order in filled for skein in order}
    rest = tuple(skein for skein in ids if skein not in given)
    return Assignment(filled, rest, _words(filled, orders, rest, pairs, tolerance_de00))


def _check(wanted: Sequence[int]) -> None:
    if not wanted:
        raise InputError("no order is named: say how many skeins each needs, such as 3, 2", field="orders")
    few = next((count for count in wanted if count < 1), None)
    if few is not None:
        raise InputError(f"an order asks for {few} skeins; it needs at least 1", field="orders", value=few, limit=1)


def _widest(skeins: Sequence[int], differences: Differences) -> float:
    return max((differences[frozenset(two)] for two in combinations(skeins, 2)), default=0.0)


def _exact(ids: Sequence[int], differences: Differences, wanted: Sequence[int], limit: float) -> tuple[Given, ...]:
    """Return the best sharing out: first how narrow it can be, then, no wider than that, the least sum."""
    groups = {size: _groups(ids, size, differences, limit) for size in set(wanted)}
    standing, _ = _best(groups, wanted, max)
    narrow = {size: [one for one in some if one[1] <= standing[-1]] for size, some in groups.items()}
    _, masks = _best(narrow, wanted, add)
    return tuple(tuple(skein for place, skein in enumerate(ids) if mask >> place & 1) for mask in masks)


def _groups(ids: Sequence[int], size: int, differences: Differences, limit: float) -> list[tuple[int, float]]:
    """Return every set of so many skeins that match, as bits, and the widest difference inside each."""
    found = []
    for places in combinations(range(len(ids)), size):
        width = _widest([ids[place] for place in places], differences)
        if width <= limit:
            found.append((sum(1 << place for place in places), width))
    return found


def _best(
    groups: Mapping[int, Sequence[tuple[int, float]]], wanted: Sequence[int], joined: Callable[[float, float], float]
) -> _Share:
    """Return the best way to share out: what it comes to (least is best), and the bits of each order, 0 where unfilled.

    What it comes to is: minus the number of filled orders, one number an order (0 filled, 1 not), and the cost.
    """
    states: dict[int, _Share] = {0: ((0.0, 0.0), ())}
    for size in wanted:
        after: dict[int, _Share] = {}
        for used, (standing, masks) in states.items():
            filled, *told, cost = standing
            _keep(after, used, ((filled, *told, 1.0, cost), (*masks, 0)))
            for mask, width in groups[size]:
                if not mask & used:
                    reached = (filled - 1, *told, 0.0, joined(cost, width))
                    _keep(after, used | mask, (reached, (*masks, mask)))
        states = after
    return min(states.values())


def _keep(states: dict[int, _Share], used: int, share: _Share) -> None:
    if used not in states or share < states[used]:
        states[used] = share


def _greedy(ids: Sequence[int], differences: Differences, wanted: Sequence[int], limit: float) -> tuple[Given, ...]:
    """Return the orders filled one after the other, each with the closest skeins that are left."""
    left, orders = list(ids), []
    for size in wanted:
        grown = [_grown(seed, left, size, differences) for seed in left]
        fitting = [(_widest(group, differences), group) for group in grown if len(group) == size]
        width, group = min(fitting, default=(float("inf"), ()))
        order = group if width <= limit else ()
        left = [skein for skein in left if skein not in order]
        orders.append(order)
    return tuple(orders)


def _grown(seed: int, left: Sequence[int], size: int, differences: Differences) -> Given:
    """Return a skein with those added, one by one, that keep the widest difference least."""
    group = [seed]
    others = [skein for skein in left if skein != seed]
    while others and len(group) < size:
        nearest = min(others, key=lambda one: max(differences[frozenset((one, member))] for member in group))
        group.append(nearest)
        others.remove(nearest)
    return tuple(sorted(group))


def _words(
    orders: Sequence[Given],
    wanted: Sequence[int],
    rest: Sequence[int],
    pairs: Sequence[PairDifference],
    tolerance_de00: float,
) -> str:
    said = [_order_words(place, group, wanted[place - 1], pairs) for place, group in enumerate(orders, start=1)]
    if not all(orders):
        said.append(f"No more of what is left match within {tolerance_de00:g}.")
    if rest:
        said.append(f"Left over: {listed(rest)}.")
    return " ".join(said)


def _order_words(number: int, group: Given, count: int, pairs: Sequence[PairDifference]) -> str:
    who = f"Order {number} ({count} {'skein' if count == 1 else 'skeins'})"
    if not group:
        return f"{who} cannot be filled."
    inside = [pair for pair in pairs if pair.a in group and pair.b in group]
    if not inside:
        return f"{who}: skein {group[0]}."
    widest = max(pair.de00 for pair in inside)
    unsure = [pair for pair in inside if pair.is_within is None]
    if len(unsure) == len(inside):
        return f"{who}: {listed(group)}, as far as this photo can tell; largest difference {widest:.1f}."
    doubt = f"; this photo cannot tell for {_named(unsure)}" if unsure else ""
    return f"{who}: {listed(group)}, largest difference {widest:.1f}{doubt}."


def _named(pairs: Sequence[PairDifference]) -> str:
    return "some of them" if len(pairs) > 3 else listed([f"{pair.a} with {pair.b}" for pair in pairs])
