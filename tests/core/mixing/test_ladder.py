"""Which depths to dye next."""

import pytest

from dyewright.core.mixing.ladder import LADDER_OWF, ladder_depths, ladders


@pytest.mark.parametrize(  # by hand, from ratios: ln 10 = 2.30 down to 0.1 %, ln 4 = 1.39 up to 4 %, ln 2.5 = 0.92
    ("known", "count", "depths"),
    [
        ([], 1, (0.01,)),
        ([], 2, (0.001, 0.01)),
        ([], 3, (0.001, 0.01, 0.04)),
        ([], 4, (0.001, 0.0025, 0.01, 0.04)),
        ([0.01], 1, (0.001,)),
        ([0.001, 0.03], 1, (0.005,)),  # 0.5 % is 5 and 6 times away from the two; 1 % only 3 times
        ([0.005], 0, ()),
    ],
)
def test_the_next_depth_lies_farthest_from_those_that_are_there(known, count, depths):
    assert ladder_depths(known, count) == pytest.approx(depths)


def test_a_ladder_ends_where_the_usual_depths_do():
    assert ladder_depths([], 20) == LADDER_OWF


def test_jars_go_first_to_the_dyes_that_are_known_least():
    planned = ladders({"Lagoon": [0.001, 0.01, 0.03], "Soot": [], "Moss": [0.01]}, 4)

    # by hand: they stand at 3, 0 and 1; Soot gets one, then as the first of two equals another, then Moss, then Soot
    assert planned == (("Soot", 0.001), ("Soot", 0.01), ("Soot", 0.04), ("Moss", 0.001))


def test_nobody_gets_more_than_a_whole_ladder():
    assert len(ladders({"Lagoon": []}, 10)) == len(LADDER_OWF)
    assert ladders({}, 8) == ()
