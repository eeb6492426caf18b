import numpy as np
import pytest
from scipy.stats import binom, ncx2
from synthetic_shelf import TABLES, invented_curves, known_shelf

from dyewright.core.matching import Limits, Target, search
from dyewright.core.matching.advice import additions, chance_within, likely_count
from dyewright.core.mixing import lab_of_mix
from dyewright.errors import InputError

DYES = 9
SHELF = known_shelf(invented_curves(np.random.default_rng(2), DYES))
CANDIDATES = ("dye 5", "dye 6", "dye 7", "dye 8")
RNG = np.random.default_rng(4)
PALETTE = np.stack([RNG.uniform(35, 75, 7), RNG.uniform(-35, 45, 7), RNG.uniform(-40, 50, 7)], axis=1)


def nearest_with(lab, allowed):
    """Return the least ΔE00 of the dyes at hand and some candidates, by a search of its own."""
    never = frozenset(set(CANDIDATES) - set(allowed))
    found = search(SHELF, Target(tuple(lab.tolist())), TABLES, Limits(never_use=never))
    return min(float(found.de00.min()), found.bare_de00)


def test_what_each_addition_reaches_is_what_a_search_of_its_own_finds():
    found = additions(SHELF, CANDIDATES, PALETTE, TABLES)
    assert found[0].dyes == ()
    assert len(found) >= 4
    for one in found:
        alone = [nearest_with(lab, one.dyes) for lab in PALETTE]
        assert one.de00 == pytest.approx(alone, abs=0.02)
        assert one.reached == sum(off <= 2 for off in alone)


def test_the_first_single_candidate_is_the_best_of_all():
    found = additions(SHELF, CANDIDATES, PALETTE, TABLES)
    first = next(one for one in found if len(one.dyes) == 1)
    reached = {name: sum(nearest_with(lab, [name]) <= 2 for lab in PALETTE) for name in CANDIDATES}
    assert first.reached == max(reached.values())


def test_pairs_are_named_only_where_both_are_needed():
    found = additions(SHELF, CANDIDATES, PALETTE, TABLES)
    singles = {one.dyes[0]: one.reached for one in found if len(one.dyes) == 1}
    for one in found:
        if len(one.dyes) == 2:
            assert all(one.reached > singles.get(name, -1) for name in one.dyes)


def test_a_dye_that_is_a_colour_of_the_palette_is_the_one_to_buy():
    only = lab_of_mix(SHELF, np.eye(DYES)[6] * 0.01, TABLES)[None]
    found = additions(SHELF, CANDIDATES, only, TABLES)
    best = next(one for one in found if len(one.dyes) == 1)
    if found[0].de00[0] > 0.1:  # else the shelf has it already
        assert best.dyes == ("dye 6",)
    assert best.de00[0] < 0.05


@pytest.mark.parametrize(("off", "radius"), [(0.0, 2.0), (1.5, 1.0), (3.0, 4.0)])
def test_the_chance_of_coming_within_is_that_of_drawn_pots(off, radius):
    # Another way: pots drawn about a point `off` away, alike in three components; and scipy.stats' own distribution.
    sd = radius / np.sqrt(7.8147)
    drawn = np.random.default_rng(0).normal((off, 0, 0), sd, (200_000, 3))
    share = np.mean(np.linalg.norm(drawn, axis=1) <= 2)
    assert chance_within(off, radius, 2.0) == pytest.approx(share, abs=0.005)
    if off:
        assert chance_within(off, radius, 2.0) == pytest.approx(ncx2.cdf((2 / sd) ** 2, 3, (off / sd) ** 2), abs=1e-4)


def test_without_any_doubt_it_is_yes_or_no():
    assert chance_within([1.9, 2.1], [0.0, 0.0], 2.0).tolist() == [1.0, 0.0]


def test_the_likely_count_of_equal_chances_is_the_binomial_one():
    assert likely_count([0.7] * 8) == (binom.ppf(0.025, 8, 0.7), binom.ppf(0.975, 8, 0.7))
    assert likely_count([1.0] * 3) == (3, 3)


@pytest.mark.parametrize(
    ("candidates", "says"), [([], "0 candidates"), (["Plum"], "no swatch"), ([f"x{i}" for i in range(21)], "21")]
)
def test_candidates_that_cannot_be_are_refused(candidates, says):
    with pytest.raises(InputError, match=says):
        additions(SHELF, candidates, PALETTE, TABLES)
