"""The colours of knitting: how yarn meets the width of a row."""

from dataclasses import replace

import numpy as np
import pytest
from cameras import colour_science
from hypothesis import given
from hypothesis import strategies as st

from dyewright.core.cloth import (
    ROW_TO_STITCH,
    Feeding,
    Knitting,
    Yarn,
    block_steps,
    even_yarn,
    knitted,
    pattern,
    quietest_width,
    rewound,
    seen_spread,
    stitch_yarn_m,
    turn_fit,
    yarn_of_parts,
)
from dyewright.errors import InputError

colour = colour_science()
WHITE = np.array([94.811, 100.0, 107.304])  # ASTM E308-01, table 5: D65, 10°
ORANGE, TEAL = (60.0, 40.0, 50.0), (45.0, -20.0, -12.0)
STITCH_M = stitch_yarn_m(22)


def xyz(lab):
    return colour.Lab_to_XYZ(np.asarray(lab, float), colour.XYZ_to_xy(WHITE)) * 100  # colour-science 0.4.7


def two_ended(stitches_a_turn):
    """A yarn that goes from orange to teal and back within so many stitches at 22 to 10 cm."""
    steps = np.linspace(0, 1, 24)[:, None, None]
    return Yarn((1 - steps) * xyz(ORANGE) + steps * xyz(TEAL), stitches_a_turn * STITCH_M)


def test_stitches_and_rows_follow_the_worked_question():
    # GATE 2015, textile engineering and fibre science, question 54: constants 4.2 and 5.5, loop 0.5 cm: 92 loops a cm².
    # 4.2 / 0.5 cm = 8.4 stitches to a cm, 84 to 10 cm; 5.5 / 0.5 = 11 rows; 8.4 · 11 = 92.4.
    assert stitch_yarn_m(84) == pytest.approx(0.005)
    assert pytest.approx(92.4) == (8.4 * 8.4) / ROW_TO_STITCH


def test_flat_rows_run_to_and_fro_and_rounds_one_way():
    yarn = two_ended(20)  # a turn fills two rows of ten: there on the first, back on the second
    flat = knitted([yarn], Knitting(10, 2, 22))
    around = knitted([yarn], Knitting(10, 2, 22, is_round=True))

    # Flat, the second row comes back along the same colours and lies on them; in the round it lies the other way.
    assert flat[1] == pytest.approx(flat[0], rel=1e-6)
    assert around[1] == pytest.approx(around[0][::-1], rel=1e-6)


def test_a_turn_of_two_rows_pools_and_one_of_two_and_a_half_rows_does_not():
    # A turn of 80 stitches is two rows of 40: all rows alike. One of 100 is 2.5 rows: two rows on the other half shows.
    pools = pattern(knitted([two_ended(80)], Knitting(40, 40, 22)), WHITE)
    scatters = pattern(knitted([two_ended(100)], Knitting(40, 40, 22)), WHITE)

    assert pools.pooled_frac > 0.95
    assert scatters.pooled_frac < 0.3
    assert turn_fit(80 * STITCH_M, Knitting(40, 40, 22)) == (pytest.approx(80), 2, 1, pytest.approx(0, abs=1e-9))


def test_the_shares_are_those_of_a_made_up_cloth():
    # Intraclass correlation by hand: variance 1 between columns and 1 within: 1 / (1 + 1) = 0.5. 4000 columns of 8 rows
    # estimate it to about 0.01; small steps of L* round 50 are ΔE00 to 1 %.
    random = np.random.default_rng(3)
    off = random.normal(size=(1, 4000)) + random.normal(size=(8, 4000))
    cloth = xyz(np.stack([50 + 0.5 * off, np.zeros_like(off), np.zeros_like(off)], axis=-1))

    found = pattern(cloth, WHITE)

    assert found.pooled_frac == pytest.approx(0.5, abs=0.03)
    assert found.striped_frac < 0.03
    assert found.spread_de00 == pytest.approx(0.5 * np.sqrt(2), rel=0.03)


def test_two_skeins_alternate_every_two_rows():
    cloth = knitted(
        [even_yarn(xyz(ORANGE), 1.5), even_yarn(xyz(TEAL), 1.5)], Knitting(4, 8, 22, False, Feeding.ALTERNATE)
    )

    first = [np.allclose(row, xyz(ORANGE)) for row in cloth]

    assert first == [True, True, False, False, True, True, False, False]


def test_the_edge_between_two_skeins_goes_when_they_alternate():
    yarns = [even_yarn(xyz((45, -15, -12)), 1.5), even_yarn(xyz((48, -15, -12)), 1.5)]
    plain = Knitting(20, 64, 22)

    # colour-science 0.4.7: CIEDE2000 of the two is what one after the other shows; blocks of 8 rows hold 4 of each.
    apart = colour.delta_E((45, -15, -12), (48, -15, -12), method="CIE 2000")
    assert block_steps(knitted(yarns, plain), WHITE) == pytest.approx(apart, rel=1e-6)
    assert block_steps(knitted(yarns, replace(plain, feeding=Feeding.ALTERNATE)), WHITE) == pytest.approx(0, abs=1e-6)


def test_means_are_of_linear_light():
    yarn = two_ended(10)
    mean = knitted([yarn], Knitting(40, 40, 22)).mean(axis=(0, 1))

    # By symmetry the whole is half orange, half teal. Mixed in light, by colour-science 0.4.7; means of Lab lie 3 off.
    mixed = colour.XYZ_to_Lab((xyz(ORANGE) + xyz(TEAL)) / 200, colour.XYZ_to_xy(WHITE))
    seen = colour.XYZ_to_Lab(mean / 100, colour.XYZ_to_xy(WHITE))
    assert colour.delta_E(seen, mixed, method="CIE 2000") < 0.3
    assert colour.delta_E((np.array(ORANGE) + TEAL) / 2, mixed, method="CIE 2000") > 2


def test_between_strands_of_one_colour_there_is_no_other():
    yarn = replace(even_yarn(xyz(TEAL), 1.5), front_xyz=np.ones((6, 4, 3)) * xyz(TEAL))

    cloth = knitted([yarn], Knitting(120, 300, 22))  # 120 × 300 stitches take many turns: all strands come up

    assert np.allclose(cloth, xyz(TEAL), rtol=1e-9)


def test_winding_anew_mixes_what_lies_side_by_side_and_keeps_the_mean():
    before = two_ended(80)
    after = rewound(before)

    assert seen_spread(after, WHITE) < seen_spread(before, WHITE) / 3
    assert after.front_xyz.mean(axis=(0, 1)) == pytest.approx(before.front_xyz.mean(axis=(0, 1)), rel=0.03)
    assert seen_spread(rewound(even_yarn(xyz(TEAL), 1.5)), WHITE) == pytest.approx(0, abs=1e-9)


def test_the_order_along_a_hank_is_read_whichever_way_it_lies():
    u, v = (part.ravel() for part in np.meshgrid(np.arange(20.0), np.arange(4.0), indexing="ij"))
    colours = np.stack([10 + u, 20 + u, 30 + u], axis=-1)
    for turn in np.radians([0, 35, 90]):
        x, y = 30 * (u * np.cos(turn) - v * np.sin(turn)), 30 * (u * np.sin(turn) + v * np.cos(turn))
        front = yarn_of_parts(x, y, colours, 1.5).front_xyz

        assert front.shape[0] > 3 * front.shape[1]
        assert front[:, 0, 0] == pytest.approx(np.linspace(10, 29, len(front)), abs=1)


def test_a_width_is_found_at_which_colours_pool_less():
    yarns, asked = [two_ended(80)], Knitting(40, 60, 22)
    width, found = quietest_width(yarns, asked, WHITE)

    assert 32 <= width <= 48
    assert found.pooled_frac < 0.3 < pattern(knitted(yarns, asked), WHITE).pooled_frac


@given(st.integers(2, 60), st.integers(1, 20), st.floats(10, 40), st.booleans(), st.sampled_from(list(Feeding)))
def test_no_stitch_has_a_colour_that_the_yarn_has_not(stitches, rows, gauge, is_round, feeding):
    yarn = two_ended(37)
    cloth = knitted([yarn], Knitting(stitches, rows, gauge, is_round, feeding))

    assert np.all(cloth >= yarn.front_xyz.min(axis=(0, 1)) - 1e-9)
    assert np.all(cloth <= yarn.front_xyz.max(axis=(0, 1)) + 1e-9)


def test_no_skein_and_no_stitch_are_told():
    with pytest.raises(InputError, match="no skein is chosen"):
        knitted([], Knitting(10, 10, 22))
    with pytest.raises(InputError, match="0 stitches: it must be above 0"):
        knitted([even_yarn(xyz(TEAL), 1.5)], Knitting(0, 10, 22))
