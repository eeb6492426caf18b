from dataclasses import replace

import numpy as np
import pytest
from synthetic_shelf import BASE, base_swatch, invented_curves, lab_of, ladder_swatches

from dyewright.core.colour import delta_cmc, delta_e00
from dyewright.core.model import (
    Basis,
    ChartReading,
    DyeClass,
    Evenness,
    JudgeResult,
    PairDifference,
    SkeinColour,
    ToTarget,
    WayKind,
)
from dyewright.core.skeins.lacking import Dyeing
from dyewright.errors import InputError
from dyewright.services.judging.topping_up import topping_up_from_table
from dyewright.services.judging.ways import with_ways

RNG = np.random.default_rng(4)
CURVES = invented_curves(RNG, 5)
SWATCHES = [base_swatch(with_curve=True), *ladder_swatches(RNG, CURVES, 0.0, with_curve=True)]
FULL = (0.008, 0, 0, 0, 0)
PALE = (0.006, 0, 0, 0, 0)


def lab(depths):
    return tuple(lab_of(BASE + np.array(depths) @ CURVES).tolist())


def judged(*depths, basis=Basis.MEASURED):
    """A verdict on skeins of these depths, the last one apart from the others, all told without doubt."""
    labs = [lab(one) for one in depths]
    skeins = tuple(SkeinColour(n, (), own, None, None, Evenness(0.4, "even")) for n, own in enumerate(labs, start=1))
    pairs = []
    for i in range(len(labs)):
        for j in range(i + 1, len(labs)):
            de00 = float(delta_e00(labs[i], labs[j]))
            cmc = float(delta_cmc(labs[i], labs[j]))
            pairs.append(PairDifference(i + 1, j + 1, de00, max(0, de00 - 0.2), de00 + 0.2, cmc, "", "", de00 <= 1))
    sets = (tuple(range(1, len(labs))), (len(labs),))
    return JudgeResult(ChartReading(found=True), skeins, tuple(pairs), sets, "", (), basis, 1.0)


def top_up(result, **options):
    bench = topping_up_from_table(SWATCHES, None, "100 g")
    return next(way for way in with_ways(result, bench=replace(bench, **options)).ways if way.kind is WayKind.TOP_UP)


def test_the_recipe_gives_back_the_dye_that_is_lacking():
    way = top_up(judged(FULL, FULL, PALE), own_dyes=("dye 0",))

    assert [dye.name for dye in way.top_up.dyes] == ["dye 0"]
    # by construction: 0.8 % less 0.6 % of 100 g; the yarn's curve is inferred from its Lab, hence the tenth
    assert way.top_up.dyes[0].dye_g == pytest.approx(0.2, rel=0.03)
    assert way.top_up.liquor_l == pytest.approx(3.0)
    low, mid, high = way.foretold_de00
    assert low == 0 <= mid < 0.5 < high
    assert "respirator" in way.caution
    assert "safety sheets" in way.caution
    assert "Dye one snip first" in way.sentence


def test_a_whole_lot_is_topped_up_to_its_target():
    skeins = tuple(
        replace(skein, to_target=ToTarget(3.0, 2.0, 4.0, 2.0, "lighter", "3", is_within=False))
        for skein in judged(PALE, PALE, PALE).skeins
    )
    lot = replace(judged(PALE, PALE, PALE), skeins=skeins, sets=((1, 2, 3),), target=lab(FULL))

    way = top_up(lot, own_dyes=("dye 0",))

    assert (way.skeins, way.beside) == ((1, 2, 3), ())
    assert way.top_up.dry_g == 300
    assert way.top_up.dyes[0].dye_g == pytest.approx(0.6, rel=0.03)  # by construction: 0.2 % of 300 g
    assert way.top_up.dyes[0].amount == "0.6 g" or "stock" in way.top_up.dyes[0].amount
    assert "to come to the target" in way.sentence


def test_a_skein_that_lacks_one_of_its_dyes_is_found_by_the_swatches():
    off_in_hue = judged((0.006, 0, 0, 0.003, 0), (0.006, 0, 0, 0.003, 0), (0.006, 0, 0, 0.0015, 0))
    way = top_up(off_in_hue, own_dyes=("dye 0", "dye 3"))

    assert not [one for one in with_ways(off_in_hue).ways if one.kind is WayKind.TOP_UP], "by eye it is off in hue"
    assert [dye.name for dye in way.top_up.dyes] == ["dye 3"]
    assert way.top_up.dyes[0].dye_g == pytest.approx(0.15, rel=0.05)  # by construction: 0.3 % less 0.15 % of 100 g


def test_what_no_dye_brings_nearer_is_no_way():
    bench = topping_up_from_table(SWATCHES, None, "100 g")
    deeper = judged(PALE, PALE, FULL)

    assert not [way for way in with_ways(deeper, bench=bench).ways if way.kind is WayKind.TOP_UP]


def test_without_a_chart_it_is_topped_up_by_eye():
    way = top_up(judged(FULL, FULL, PALE, basis=Basis.RELATIVE))

    assert way.top_up is None
    assert "By eye, for without a chart" in way.sentence
    assert "of the first dose is lacking" in way.sentence


def test_reactive_powder_has_its_own_caution():
    result = with_ways(judged(FULL, FULL, PALE), Dyeing({"Blue": DyeClass.DICHLOROTRIAZINE}))

    assert "sensitise the lungs for life" in next(way for way in result.ways if way.kind is WayKind.TOP_UP).caution
    assert "Heating again does not help: bonded reactive dyes never move (Blue)." in result.advice


@pytest.mark.parametrize("dry", [None, "0 g", "some"])
def test_a_weight_that_cannot_be(dry):
    with pytest.raises(InputError):
        topping_up_from_table(SWATCHES, None, dry)
