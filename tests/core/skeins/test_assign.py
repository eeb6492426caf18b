from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dyewright.core.model import PairDifference
from dyewright.core.skeins.assign import EXACT_UP_TO, assign
from dyewright.errors import InputError


def pairs_of(points, half=0.0, tolerance=1.0):
    """Skeins along a line: they differ by how far they lie apart."""
    found = []
    for (a, one), (b, two) in combinations(enumerate(points, start=1), 2):
        de00 = abs(one - two)
        unsure = de00 - half <= tolerance < de00 + half
        found.append(
            PairDifference(a, b, de00, de00 - half, de00 + half, de00, "", "", None if unsure else de00 <= tolerance)
        )
    return found


def shared(points, wanted, **options):
    return assign(range(1, len(points) + 1), pairs_of(points, **options), wanted, 1.0)


def test_three_that_match_and_then_two():
    # by hand: 2, 4 and 5 lie within 0.3, 1 and 3 within 0.2; 6 is far from all
    answer = shared([5.0, 0.0, 5.2, 0.1, 0.3, 9.0], [3, 2])

    assert answer.orders == ((2, 4, 5), (1, 3))
    assert answer.rest == (6,)
    assert answer.words == (
        "Order 1 (3 skeins): 2, 4 and 5, largest difference 0.3. "
        "Order 2 (2 skeins): 1 and 3, largest difference 0.2. Left over: 6."
    )


def test_the_first_order_does_not_take_what_the_second_needs():
    # by hand: the closest three, 0.0 to 0.2, would leave 0.9 beside 4.0; 0.0, 0.1, 0.2 and 0.8, 0.9 fill both, and so
    # does nothing that is closer: the widest difference is then 0.2
    answer = shared([0.0, 0.1, 0.2, 0.8, 0.9, 4.0], [2, 3])

    assert answer.orders == ((4, 5), (1, 2, 3))


def test_skeins_of_one_set_match_even_where_they_measure_a_little_more():
    pairs = pairs_of([0.0, 1.05, 5.0])

    assert assign([1, 2, 3], pairs, [2], 1.0).orders == ((),)
    assert assign([1, 2, 3], pairs, [2], 1.0, [[1, 2], [3]]).orders == ((1, 2),)


def test_an_order_that_cannot_be_filled_is_empty_and_said_so():
    answer = shared([0.0, 0.5, 3.0], [3, 2, 1])

    assert answer.orders == ((), (1, 2), (3,))
    assert answer.rest == ()
    assert "Order 1 (3 skeins) cannot be filled." in answer.words
    assert "No more of what is left match within 1." in answer.words


def test_earlier_orders_come_first_where_not_all_can_be_filled():
    assert shared([0.0, 0.1, 5.0], [2, 2]).orders == ((1, 2), ())


def test_what_the_photo_cannot_tell_is_said():
    assert "1 and 2, as far as this photo can tell; largest" in shared([0.0, 0.9], [2], half=0.3).words
    assert "this photo cannot tell for 1 with 3" in shared([0.0, 0.4, 0.9], [3], half=0.3).words


@pytest.mark.parametrize("wanted", [[], [2, 0], [-1]])
def test_orders_that_cannot_be(wanted):
    with pytest.raises(InputError):
        shared([0.0, 0.1], wanted)


def every_sharing(ids, wanted):
    """All ways to fill or leave the orders, one by one: slow, and nothing clever in it."""
    if not wanted:
        yield ()
        return
    for group in [(), *combinations(ids, wanted[0])]:
        left = [one for one in ids if one not in group]
        for rest in every_sharing(left, wanted[1:]):
            yield (group, *rest)


def standing(orders, differences):
    widths = [max((differences[frozenset(two)] for two in combinations(group, 2)), default=0.0) for group in orders]
    filled = [bool(group) for group in orders]
    return (-sum(filled), [not one for one in filled], max(widths), sum(widths))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 6), st.lists(st.integers(1, 4), min_size=1, max_size=3))
def test_nothing_is_better_than_what_is_found(seed, count, wanted):
    points = np.random.default_rng(seed).uniform(0, 3, count).round(2)
    pairs = pairs_of(points.tolist())
    differences = {frozenset((pair.a, pair.b)): pair.de00 for pair in pairs}

    found = shared(points.tolist(), wanted).orders

    possible = [
        standing(orders, differences)
        for orders in every_sharing(range(1, count + 1), wanted)
        if all(differences[frozenset(two)] <= 1.0 for group in orders for two in combinations(group, 2))
    ]
    best, got = min(possible), standing(found, differences)
    assert got[:3] == best[:3]
    assert got[3] == pytest.approx(best[3], abs=1e-9)  # sums in another order


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(EXACT_UP_TO + 1, 30), st.lists(st.integers(1, 6), min_size=1, max_size=5))
def test_many_skeins_are_shared_out_too(seed, count, wanted):
    points = np.random.default_rng(seed).uniform(0, 4, count).tolist()

    answer = shared(points, wanted)

    given_away = [one for order in answer.orders for one in order]
    assert sorted([*given_away, *answer.rest]) == list(range(1, count + 1))
    for order, size in zip(answer.orders, wanted, strict=True):
        assert len(order) in {0, size}
        assert all(abs(points[a - 1] - points[b - 1]) <= 1.0 for a, b in combinations(order, 2))


def test_a_dozen_skeins_for_four_orders_are_shared_out_at_once():
    points = np.linspace(0, 2.9, EXACT_UP_TO).tolist()

    # by hand: in steps of 2.9 / 11 threes span 0.53, and four threes are all there is
    assert [len(order) for order in shared(points, [3, 3, 3, 3]).orders] == [3, 3, 3, 3]
