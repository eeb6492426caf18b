from dataclasses import replace

import pytest
from skein_sets import sets_of

from dyewright.core.model import Evenness, PairDifference, SkeinColour, ToTarget, UnevenKind
from dyewright.core.skeins import advice, verdict
from dyewright.core.skeins.sets import is_within
from dyewright.core.skeins.ways import ways


def skein(number, lightness=45.0, uneven=0.4, target=None):
    ratings = "even" if uneven < 1 else "uneven"
    return SkeinColour(number, (), (lightness, -18.0, -12.0), None, None, Evenness(uneven, ratings), target)


def pairs_of(differences, half=0.1):
    return [
        PairDifference(a, b, de, low, de + half, de * 0.9, "", is_within=is_within(low, de + half, 1.0))
        for (a, b), de in differences.items()
        for low in [max(0, de - half)]
    ]


def judged(skeins, differences, half=0.1):
    pairs = pairs_of(differences, half)
    sets = sets_of([s.id for s in skeins], pairs, 1.0)
    return verdict(skeins, pairs, sets, 1.0), " ".join(advice(skeins, pairs, sets, 1.0, ways(skeins, pairs, sets)))


THREE_AND_ONE = {(1, 2): 0.4, (1, 3): 3.4, (1, 4): 0.5, (2, 3): 3.6, (2, 4): 0.7, (3, 4): 3.5}


def test_three_match_and_one_is_a_lot_of_its_own():
    said, what_now = judged([skein(1), skein(2), skein(3, 49), skein(4)], THREE_AND_ONE)

    assert said == "Three match; skein 3 is a lot of its own."
    assert "Keep 1, 2 and 4 together as one lot: the largest difference is 0.7" in what_now
    assert "Skein 3 looks to have less dye, 3.4 (3.3 to 3.5) from 1: wet it out and top it up" in what_now


def test_a_darker_one_cannot_be_topped_up():
    _, what_now = judged([skein(1), skein(2), skein(3, 41), skein(4)], THREE_AND_ONE)

    assert "Dye does not come out of 3 again" in what_now
    assert "top it up" not in what_now


def test_a_small_difference_is_for_alternating():
    _, what_now = judged([skein(1), skein(2), skein(3)], {(1, 2): 0.3, (1, 3): 1.6, (2, 3): 1.7})

    assert "alternate with the others every two rows" in what_now


@pytest.mark.parametrize(
    ("differences", "half", "said"),
    [
        ({(1, 2): 0.4}, 0.1, "Both match."),
        ({(1, 2): 0.9}, 0.4, "Both look alike: no difference above 1.3 ΔE00 can hide in this photo."),
        ({(1, 2): 0.94}, 0.32, "Both look alike: no difference above 1.3 ΔE00 can hide in this photo."),  # rounded up
        (
            {(1, 2): 0.9},
            1.4,
            "Both look alike, but this photo is too rough to be sure: a difference of up to 2.3 ΔE00 may hide in it.",
        ),  # 0.9 + 1.4
        ({(1, 2): 2.9}, 0.4, "Skeins 1 and 2 are each a lot of their own."),
        ({(1, 2): 1.2}, 0.4, "For skeins 1 and 2 this photo cannot tell."),
    ],
)
def test_two_skeins(differences, half, said):
    assert judged([skein(1), skein(2)], differences, half)[0] == said


def test_skeins_measured_far_apart_do_not_look_alike_however_rough_the_photo():
    # nothing tells them apart (down to 0), so that they stay one set; what was measured is beyond the tolerance of 1
    one = [PairDifference(1, 2, 6.0, 0.0, 13.0, 5.4, "")]
    assert verdict([skein(1), skein(2)], one, [(1, 2)], 1.0) == (
        "This photo is too rough to tell whether both match: a difference of up to 13.0 ΔE00 may be there."
    )
    rough = [
        PairDifference(1, 2, 1.4, 0.0, 3.0, 1.3, ""),
        PairDifference(1, 3, 9.0, 7.0, 11.0, 8.0, "", is_within=False),
        PairDifference(2, 3, 9.0, 7.0, 11.0, 8.0, "", is_within=False),
    ]
    assert verdict([skein(1), skein(2), skein(3)], rough, [(1, 2), (3,)], 1.0) == (
        "Whether 1 and 2 match this photo cannot tell; skein 3 is a lot of its own."
    )


def test_one_skein_is_told_for_itself():
    assert judged([skein(1, uneven=2.6)], {})[0] == "Skein 1 is uneven inside."
    assert "wound onto another reel" in judged([skein(1, uneven=2.6)], {})[1]
    far = skein(1, target=ToTarget(3.0, 2.0, 4.0, 2.8, "lighter", is_within=False))
    assert judged([far], {})[0] == "Skein 1 misses the target by 3.0 and is even inside."
    assert "3.0 (2.0 to 4.0) off the target: lighter" in judged([far], {})[1]


def test_two_sets_that_may_be_one_are_said_to_be_open():
    differences = {(1, 2): 0.2, (1, 3): 1.3, (1, 4): 1.4, (2, 3): 1.3, (2, 4): 1.2, (3, 4): 0.2}

    said, what_now = judged([skein(n) for n in (1, 2, 3, 4)], differences, half=0.5)

    assert said == "1 and 2 match; 3 and 4 match; whether 3 and 4 belong with them this photo cannot tell."
    assert "Whether skeins 3 and 4 belong to 1 and 2 this photo cannot decide (2 and 4: 1.2, 0.7 to 1.7)" in what_now
    assert "Skeins 3 and 4 may differ from their nearest" in what_now


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (UnevenKind.TIDE_LINE, "skein 2 has a tide line"),
        (UnevenKind.GRADIENT, "skein 2 grows deeper towards one end"),
        (UnevenKind.VARIEGATED, "skein 2 is many-coloured"),
    ],
)
def test_the_answer_says_which_are_uneven_and_how(kind, said):
    uneven = replace(skein(2), evenness=Evenness(3.0, "uneven", kind=kind))

    assert judged([skein(1), uneven], {(1, 2): 0.4})[0] == f"Both match. Inside, {said}."


def test_targets_are_accepted_or_left_open():
    near = skein(1, target=ToTarget(0.4, 0.1, 0.8, 0.4, "", is_within=True))
    open_ = skein(2, target=ToTarget(0.9, 0.0, 2.0, 0.8, ""))

    _, what_now = judged([near, open_], {(1, 2): 0.4})

    assert "Skein 1: on target, accept." in what_now
    assert "Whether skein 2 lies within 1 of the target, this photo cannot tell" in what_now


def test_no_skein():
    assert judged([], {}) == (
        "No skein is marked in the photo.",
        "Draw an outline round each skein, or lay them apart on plain white paper.",
    )
