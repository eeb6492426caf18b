from itertools import combinations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from skein_sets import sets_of
from synthetic_shelf import BASE, invented_curves, lab_of

from dyewright.core.colour import delta_cmc, delta_e00
from dyewright.core.model import (
    DyeClass,
    Evenness,
    EvenPart,
    PairDifference,
    SkeinColour,
    UnevenKind,
    WayKind,
)
from dyewright.core.skeins.lacking import Dyeing, missing_frac
from dyewright.core.skeins.ways import ALTERNATE_FOR_BUYER, reheat_words, ways

TEAL = (45.0, -18.0, -12.0)


def skein(number, lab=TEAL, uneven=0.4, kind=UnevenKind.EVEN, parts=()):
    evenness = Evenness(uneven, "even" if uneven < 2 else "uneven", kind=kind, parts=parts)
    return SkeinColour(number, (), lab, None, None, evenness)


def pairs_of(skeins, half=0.1, tolerance=1.0):
    found = []
    for one, two in combinations(skeins, 2):
        de00 = float(delta_e00(one.lab, two.lab))
        low, high = max(0.0, de00 - half), de00 + half
        within = True if high <= tolerance else False if low > tolerance else None
        cmc = float(delta_cmc(one.lab, two.lab))
        found.append(PairDifference(one.id, two.id, de00, low, high, cmc, "", "", within))
    return found


def found_for(skeins, dyeing=None, half=0.1):
    pairs = pairs_of(skeins, half)
    return ways(skeins, pairs, sets_of([one.id for one in skeins], pairs, 1.0), dyeing)


def kinds(found):
    return [way.kind for way in found]


def lit(step):
    """TEAL with so much less or more dye, by hand: lighter and a little less blue, or the other way."""
    return (TEAL[0] + step, TEAL[1] + 0.3 * step, TEAL[2] + 0.5 * step)


def test_equal_skeins_are_kept_together_and_nothing_else_is_to_be_done():
    found = found_for([skein(1), skein(2, lit(0.2)), skein(3)])

    assert kinds(found) == [WayKind.ACCEPT]
    assert found[0].skeins == (1, 2, 3)
    assert found[0].for_buyer == ""


def test_a_pale_skein_is_topped_up_or_sold_apart_and_not_alternated():
    found = found_for([skein(1), skein(2), skein(3, lit(5))])

    assert kinds(found) == [WayKind.ACCEPT, WayKind.TOP_UP, WayKind.REHEAT, WayKind.SELL_APART]
    top_up = found[1]
    assert (top_up.skeins, top_up.beside) == ((3,), (1, 2))
    assert "looks to have less dye" in top_up.sentence
    assert "begin with half of that" in top_up.sentence
    assert found[-1].for_buyer.startswith("A lot of its own")


def test_a_dark_skein_is_not_topped_up_for_dye_does_not_come_out():
    found = found_for([skein(1), skein(2), skein(3, lit(-5))])

    assert WayKind.TOP_UP not in kinds(found)
    assert "Dye does not come out of 3 again." in found[-1].sentence


def test_of_two_skeins_the_paler_one_is_topped_up():
    for labs, pale in (((TEAL, lit(5)), 2), ((lit(5), TEAL), 1)):
        top_up = next(way for way in found_for([skein(1, labs[0]), skein(2, labs[1])]) if way.kind is WayKind.TOP_UP)
        assert top_up.skeins == (pale,)
        assert top_up.beside == (3 - pale,)


def test_a_skein_off_in_hue_is_not_said_to_lack_dye():
    assert WayKind.TOP_UP not in kinds(found_for([skein(1), skein(2), skein(3, (45.0, -12.0, -18.0))]))


def test_a_small_difference_is_for_alternating_and_the_step_halves():
    found = found_for([skein(1), skein(2), skein(3, lit(1.4))])

    way = next(way for way in found if way.kind is WayKind.ALTERNATE)
    full = float(delta_e00(TEAL, lit(1.4)))
    # linear light of two colours close to each other lies half way between them
    assert way.foretold_de00[1] == pytest.approx(full / 2, rel=0.03)
    assert way.for_buyer == ALTERNATE_FOR_BUYER
    assert way.foretold_de00[0] < way.foretold_de00[1] < way.foretold_de00[2]


def test_what_the_photo_cannot_tell_is_not_sold_apart_nor_dyed_again():
    found = found_for([skein(1), skein(2), skein(3, lit(1.4))], half=0.8)

    assert kinds(found) == [WayKind.ACCEPT, WayKind.ALTERNATE]


def a_map(labs):
    """Parts over a skein of 30 by 6, laid out row by row; `labs` has shape (30, 6, 3)."""
    rows, columns = labs.shape[:2]
    away = delta_e00(labs.reshape(-1, 3).mean(axis=0), labs)
    return tuple(
        EvenPart(float(column), float(row), tuple(labs[row, column].tolist()), float(away[row, column]))
        for row in range(rows)
        for column in range(columns)
    )


def blotched(seed=3):
    rng = np.random.default_rng(seed)
    spots = gaussian_filter(rng.normal(0, 8.0, (30, 6)), 1.0)[..., None]
    parts = a_map(np.tile(TEAL, (30, 6, 1)) + spots * [1, 0.3, 0.5])
    away = float(np.percentile([part.de00 for part in parts], 95))
    return skein(1, uneven=away, kind=UnevenKind.BLOTCHES, parts=parts)


def test_winding_anew_evens_inside_a_skein_and_says_how_far():
    one = blotched()

    way = next(way for way in found_for([one, skein(2)]) if way.kind is WayKind.RESKEIN)

    low, mid, high = way.foretold_de00
    # by hand: five strands that have nothing to do with each other leave 1/√5 = 0.45 of their scatter, ten 0.32
    assert 0.3 * one.evenness.de00_p95 < mid < 0.6 * one.evenness.de00_p95
    assert low < mid < high <= one.evenness.de00_p95
    assert "nothing changes between skeins" in way.sentence


def test_without_a_map_nothing_is_foretold():
    way = found_for([skein(1, uneven=3.0, kind=UnevenKind.GRADIENT)])[0]

    assert way.kind is WayKind.RESKEIN
    assert way.foretold_de00 is None
    assert "If it is meant so" not in way.sentence
    assert "If it is meant so" in found_for([skein(1, uneven=8.0, kind=UnevenKind.VARIEGATED)])[0].sentence


@pytest.mark.parametrize(
    ("classes", "is_way", "said"),
    [
        ([DyeClass.ACID_LEVELLING], True, "levelling dyes even at the boil (dye 1)"),
        ([DyeClass.ACID_MILLING], False, "milling and 1:2 metal complex dyes hardly move (dye 1)"),
        ([DyeClass.METAL_COMPLEX], False, "hardly move (dye 1)"),
        ([DyeClass.VINYL_SULPHONE], False, "bonded reactive dyes never move (dye 1)"),
        ([DyeClass.ACID_LEVELLING, DyeClass.DICHLOROTRIAZINE], True, "never move (dye 2)"),
        ([DyeClass.ACID_UNKNOWN], True, "of unknown kind nobody knows (dye 1)"),
        ([DyeClass.DIRECT], True, "move in part (dye 1)"),
        ([], True, "theirs are not known"),
    ],
)
def test_heating_again_goes_by_the_classes_of_the_dyes(classes, is_way, said):
    dyeing = Dyeing({f"dye {place}": one for place, one in enumerate(classes, start=1)})

    found = found_for([skein(1, uneven=3.0, kind=UnevenKind.GRADIENT), skein(2)], dyeing)

    assert (WayKind.REHEAT in kinds(found)) is is_way
    assert said in reheat_words(dyeing)


def test_the_missing_share_of_one_dye_comes_from_its_absorption():
    # by hand: undyed white, a grey dye. R = 0.5: K/S 0.25; R = 0.4: K/S 0.45; of 0.45, 0.2 is lacking, 4/9
    lab = {share: (116 * share ** (1 / 3) - 16, 0.0, 0.0) for share in (0.4, 0.5)}

    assert missing_frac(lab[0.5], lab[0.4], (100.0, 0.0, 0.0)) == pytest.approx(4 / 9, abs=1e-6)
    assert missing_frac(lab[0.4], lab[0.5], (100.0, 0.0, 0.0)) == 0


def test_the_missing_share_is_a_fair_guide_for_mixes_too():
    rng = np.random.default_rng(1)
    curves, undyed, found = invented_curves(rng, 12), lab_of(BASE), []
    for _ in range(100):
        dyes = rng.choice(12, rng.integers(1, 4), replace=False)
        ratio = np.exp(rng.uniform(np.log(0.001), np.log(0.02), len(dyes))) @ curves[dyes]
        lack = rng.uniform(0.08, 0.35)
        found.append(missing_frac(lab_of(BASE + (1 - lack) * ratio), lab_of(BASE + ratio), undyed) / lack)

    # truth by construction: absorption adds up; three bands stand for thirty-one wavelengths
    assert np.all(np.abs(np.percentile(found, [5, 95]) - 0.95) < 0.12)


def test_no_skein_no_way():
    assert ways([], [], ()) == ()


def test_one_even_skein_is_accepted():
    assert kinds(found_for([skein(1)])) == [WayKind.ACCEPT]
