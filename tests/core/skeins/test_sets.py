import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyewright.core.model import PairDifference
from dyewright.core.skeins import Doubt, matching_sets, pair_differences, to_target
from dyewright.core.skeins.sets import CANNOT_TELL

SURE = Doubt(light_frac=0.0, scale_frac=0.0)


def pairs_of(labs, sd=0.0, doubt=SURE, tolerance=1.0):
    return pair_differences(range(1, len(labs) + 1), labs, np.full((len(labs), 3), sd), doubt, tolerance)


def test_the_published_pair_and_its_standard():
    # Sharma et al. 2005, table 1, pair 25: CIEDE2000 1.2644; CMC(2:1) 1.4205 by colour-science 0.4.7, 1.3934 swapped
    one, two = (60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387)

    there, back = pairs_of([one, two])[0], pairs_of([two, one])[0]

    assert there.de00 == pytest.approx(1.2644, abs=5e-5)
    assert (there.decmc21, back.decmc21) == (pytest.approx(1.4205, abs=5e-5), pytest.approx(1.3934, abs=5e-5))


def test_the_interval_grows_with_each_doubt():
    labs = [(50, 0, 0), (51, 0, 0)]
    plain = pairs_of(labs)[0]
    light = pairs_of(labs, doubt=Doubt(light_frac=0.02, scale_frac=0))[0]
    scale = pairs_of(labs, doubt=Doubt(light_frac=0, scale_frac=0.1))[0]

    # S_L is 1 at L* 50, so ΔL 1 is 1.00 ΔE00. Light of 2 %: (50.5 + 16)/3·0.02 = 0.443 of L*, times 1.614 = 0.716.
    # Scale of 10 %: 1.96·0.1 = 0.196.
    assert plain.low == pytest.approx(plain.high, abs=1e-9)
    assert light.high - light.de00 == pytest.approx(0.716, abs=0.005)
    assert scale.high - scale.de00 == pytest.approx(0.196, abs=0.002)


def test_an_interval_over_the_limit_cannot_tell():
    labs = [(50, 0, 0), (51, 0, 0)]

    assert CANNOT_TELL in pairs_of(labs, sd=0.2)[0].words
    assert CANNOT_TELL not in pairs_of(labs, sd=0.2, tolerance=3.0)[0].words
    assert pairs_of(labs, sd=0.01, tolerance=0.5)[0].words.startswith("2 is a touch lighter than 1")


def test_errors_within_the_interval_nineteen_times_of_twenty():
    random = np.random.default_rng(6)
    sd, truth = 0.3, np.array([[48.0, -15, -8], [48.0, -15, -8]])
    seen = truth + random.normal(0, sd, (2000, 2, 3))

    held = [pairs_of(labs, sd=sd)[0].low == 0 for labs in seen]

    # equal skeins: the interval must reach down to 0 in 95 of 100; 2,000 draws leave ±1 %
    assert np.mean(held) == pytest.approx(0.95, abs=0.02)


def pair(a, b, de00):
    return PairDifference(a, b, de00, de00, de00, de00, "")


def test_no_two_of_a_set_differ_by_more_than_the_limit():
    # 1 and 2 agree, 2 and 3 agree, 1 and 3 do not: single linkage would join all three
    pairs = [pair(1, 2, 0.7), pair(1, 3, 1.4), pair(2, 3, 0.8)]

    assert matching_sets([1, 2, 3], pairs, 1.0) == ((1, 2), (3,))


def test_one_skein_is_a_set_and_none_is_none():
    assert matching_sets([1], [], 1.0) == ((1,),)
    assert matching_sets([], [], 1.0) == ()


@given(st.lists(st.tuples(st.floats(20, 80), st.floats(-30, 30), st.floats(-30, 30)), min_size=2, max_size=8))
def test_sets_hold_every_skein_once_and_keep_the_limit(labs):
    pairs = pairs_of(labs)
    sets = matching_sets(range(1, len(labs) + 1), pairs, 1.0)

    assert sorted(skein for group in sets for skein in group) == list(range(1, len(labs) + 1))
    inside = [p.de00 for p in pairs if any(p.a in group and p.b in group for group in sets)]
    assert max(inside, default=0) <= 1.0 + 1e-9
    assert all(p.low <= p.de00 <= p.high for p in pairs)


def test_the_target_is_the_standard():
    target = to_target((60.4626, -34.1751, 39.4387), (0, 0, 0), (60.2574, -34.0099, 36.2677))

    assert target.decmc21 == pytest.approx(1.4205, abs=5e-5)  # colour-science 0.4.7, standard first
    assert "yellower" in target.words or "brighter" in target.words
