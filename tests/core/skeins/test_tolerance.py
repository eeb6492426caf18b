import numpy as np
import pytest
from scipy.cluster.hierarchy import fcluster, linkage

from dyewright.core.skeins.tolerance import SortedLot, SortedPair, learnt_tolerance, sorted_lot
from dyewright.errors import InputError

READ_SD = 0.15  # of a skein's colour, a component, in ΔE00: a difference is then sure to about 0.2
LOTS, SKEINS = 6, 6


def sorted_by(distances, limit):
    condensed = distances[np.triu_indices(len(distances), 1)]
    return [str(name) for name in fcluster(linkage(condensed, "complete"), limit, "distance")]


def apart(points):
    return np.linalg.norm(points[:, None] - points[None], axis=-1)


def a_lot(rng, limit, proposed_at, effort=1.0):
    """A lot whose dyer sorts by what the eye sees, with a limit that wavers by 15 %, where there is the effort to."""
    true = rng.normal(0, rng.uniform(0.4, 1.6), (SKEINS, 3))
    read = apart(true + rng.normal(0, READ_SD, true.shape))
    proposed = sorted_by(read, proposed_at)
    sold = sorted_by(apart(true), limit * np.exp(rng.normal(0, 0.15))) if rng.random() < effort else proposed
    return sorted_lot(read, sold, proposed, np.full(read.shape, READ_SD * np.sqrt(2)))


@pytest.mark.parametrize("limit", [0.7, 1.5, 3.0])
def test_simulated_dyers_limits_are_learnt_from_six_lots(limit):
    rng = np.random.default_rng(5)
    held, middles = 0, []
    for _ in range(100):
        found = learnt_tolerance([a_lot(rng, limit, 1.0) for _ in range(LOTS)], 1.0)
        held += found.low <= limit <= found.high
        middles.append(found.mid)

    assert held >= 85  # the band is to hold 90 of 100; fewer than 85 come by chance in 4 of 100 cases
    assert np.median(middles) == pytest.approx(limit, rel=0.2)


def test_only_agreeing_with_what_was_proposed_teaches_little():
    rng = np.random.default_rng(7)
    lots = [a_lot(rng, 3.0, 1.0, effort=0.0) for _ in range(20)]  # never looked: all is left as proposed

    found = learnt_tolerance(lots, 1.0)
    looked_at = learnt_tolerance([a_lot(rng, 3.0, 1.0) for _ in range(20)], 1.0)

    assert found.moved_lots == 0
    assert np.log(found.high / found.low) > 3 * np.log(looked_at.high / looked_at.low)
    assert "as proposed" in found.words


def test_without_a_sold_pair_the_wish_stands_and_is_wide():
    found = learnt_tolerance([], 1.3)

    assert found.mid == pytest.approx(1.3, rel=0.01)
    # by hand: exp(±1.645 · 0.8) = 3.7, the ends of the middle 90 % of the prior
    assert found.high / found.mid == pytest.approx(3.7, rel=0.05)
    assert found.mid / found.low == pytest.approx(3.7, rel=0.05)


def lot_of(*pairs):
    return SortedLot(tuple(SortedPair(de00, is_together=together) for de00, together in pairs), is_as_proposed=False)


def test_selling_wider_pairs_together_widens_the_limit():
    middles = [learnt_tolerance([lot_of((de00, True))] * 3, 1.0).mid for de00 in (0.5, 1.5, 2.5)]

    assert middles == sorted(middles)
    assert middles[-1] > 2


def test_one_slip_does_not_carry_the_limit_off():
    usual = [lot_of((0.8, True), (1.6, False))] * 4

    found = learnt_tolerance([*usual, lot_of((6.0, True))], 1.0)

    assert found.mid == pytest.approx(learnt_tolerance(usual, 1.0).mid, rel=0.1)
    assert found.words.startswith("learnt from 9 pairs of 5 lots, 5 sorted by your own eye: 1.1 (")


def test_the_pairs_that_tell_are_the_widest_of_each_set_and_over_two():
    points = np.array([[0.0], [0.3], [0.5], [2.0], [2.4]])
    sold = ["A", "A", "A", "B", "B"]

    told = sorted_lot(apart(points), sold, ["A", "A", "B", "C", "C"], np.full((5, 5), 0.2))

    # by hand: inside A 0 to 0.5, inside B 2.0 to 2.4, over both 0 to 2.4
    assert [(round(pair.de00, 6), pair.is_together) for pair in told.pairs] == [(0.5, True), (0.4, True), (2.4, False)]
    assert not told.is_as_proposed
    other_letters = ["C", "C", "C", "A", "A"]
    assert sorted_lot(apart(points), sold, other_letters, np.full((5, 5), 0.2)).is_as_proposed


@pytest.mark.parametrize("wish", [0.0, -1.0, float("nan")])
def test_a_wish_that_cannot_be(wish):
    with pytest.raises(InputError):
        learnt_tolerance([], wish)
