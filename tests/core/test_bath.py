"""Bath amounts against definitions and rules of the trade; each rule is marked as such."""

import pytest

from dyewright.core import bath
from dyewright.core.model import Drain, Fibre, Weigh, Yarn
from dyewright.data.practice import load_fibre_waters
from dyewright.errors import InputError

WOOL = Yarn({Fibre.WOOL: 1.0}, 100.0)


@pytest.mark.parametrize(
    ("dry_g", "depth_owf", "dye_g"),
    [
        (100, 0.01, 1.0),  # common practice, no source: depth 1 % is 1 g on 100 g
        (300, 0.005, 1.5),  # common practice, no source: 0.5 % on 300 g is 1.5 g
        (100_000, 0.04, 4_000),  # V.F.S.T.R. University slides: 4 kg dye on 100 kg goods is a 4 % shade
    ],
)
def test_a_depth_is_dye_on_dry_fibre(dry_g, depth_owf, dye_g):
    assert bath.dye_mass_g(dry_g, depth_owf) == pytest.approx(dye_g)


def test_stock_of_one_percent_holds_two_grams_in_two_hundred_millilitres():
    # by definition: V = W p / c, 100 g x 2 % / 1 % = 200 mL
    assert bath.stock_volume_l(bath.dye_mass_g(100, 0.02), 10) == pytest.approx(0.2)
    assert bath.stock_mass_g(0.2) == pytest.approx(200)


@pytest.mark.parametrize(
    ("dry_g", "ratio", "litres"),
    [
        (100_000, 10, 1000),  # V.F.S.T.R. University slides: 100 kg in 1000 L is 1:10
        (1_000_000, 3.5, 3500),  # the same: 1000 kg in 3500 L is 1:3.5
    ],
)
def test_a_liquor_ratio_is_litres_a_kilogram(dry_g, ratio, litres):
    assert bath.liquor_volume_l(dry_g, ratio) == pytest.approx(litres)


@pytest.mark.parametrize(("mass_g", "resolution_g", "expected"), [(2.0, 0.1, Weigh.POWDER), (1.9, 0.1, Weigh.STOCK)])
def test_powder_is_weighed_from_twenty_scale_steps_on(mass_g, resolution_g, expected):
    # by hand: 0.1 g / 2.0 g = 5 %, the limit; 0.1 / 1.9 = 5.3 %
    assert bath.weigh_as(mass_g, resolution_g) is expected


@pytest.mark.parametrize(
    ("dye_g", "resolution_g", "strength", "volume_l"),
    [
        (0.44, 0.1, 10.0, 0.25),  # dose 44 mL of 1 %; 100 mL would need 1 g, under the 2 g this scale weighs
        (0.375, 0.01, 10.0, 0.1),  # dose 37.5 mL; 1 g is over the 0.2 g of this scale
        (0.02, 0.01, 1.0, 0.25),  # 2 mL of 1 % is under 5 mL: 0.1 %, dose 20 mL; 0.25 g is over 0.2 g
        (30.0, 2.0, 10.0, 4.0),  # dose 3 L; 40 g are needed for this scale: 4 L of 1 %
    ],
)
def test_a_stock_can_be_weighed_and_measured(dye_g, resolution_g, strength, volume_l):
    # by hand, from the two rules in the docstring
    hint = bath.stock_hint(dye_g, resolution_g)
    assert (hint.stock_g_l, hint.volume_l) == (strength, pytest.approx(volume_l))
    assert hint.powder_g == pytest.approx(strength * volume_l)


@pytest.mark.parametrize(("dye_g", "strength"), [(6.6, 10.0), (30.0, 20.0), (120.0, 50.0)])
def test_one_stock_serves_all_pots(dye_g, strength):
    # by hand: 6.6 g at 1 % is 0.66 L; 30 g at 1 % is 3 L, over 2 L, at 2 % 1.5 L; 120 g even at 5 % is 2.4 L
    hint = bath.lot_stock(dye_g)
    assert hint.stock_g_l == strength
    assert hint.powder_g == dye_g


def test_wet_yarn_brings_its_own_water():
    # by hand: 250 g of 80 % superwash wool (1.5 x 1.2 L/kg) and 20 % nylon (0.9 L/kg), squeezed: 0.25 x 1.62 L
    yarn = Yarn({Fibre.WOOL: 0.8, Fibre.NYLON: 0.2}, 250.0, is_superwash=True)
    carried = 0.25 * bath.retention_l_kg(yarn, Drain.SQUEEZED, load_fibre_waters())
    assert carried == pytest.approx(0.405)
    assert bath.water_to_add_l(6.25, carried) == pytest.approx(5.845)


def test_spun_yarn_carries_less_than_squeezed_less_than_dripping():
    waters = load_fibre_waters()
    spun, squeezed, dripping = (
        bath.retention_l_kg(WOOL, d, waters) for d in (Drain.SPUN, Drain.SQUEEZED, Drain.DRIPPING)
    )
    assert spun < squeezed < dripping


def test_bone_dry_wool_is_lighter_by_its_regain():
    # by hand: 116 g of wool with 16 g of water on 100 g bone dry
    assert bath.bone_dry_g(Yarn({Fibre.WOOL: 1.0}, 116.0), load_fibre_waters()) == pytest.approx(100)


def test_a_pot_stands_as_full_as_liquor_and_fibre_make_it():
    # by hand: 1.31 kg of wool displaces 1 L; (14 + 1) / 20
    displaced = bath.fibre_volume_l(Yarn({Fibre.WOOL: 1.0}, 1310.0), load_fibre_waters())
    assert displaced == pytest.approx(1.0)
    fill = bath.pot_fill_frac(14.0, displaced, 20.0)
    assert fill == pytest.approx(0.75)
    assert bath.pot_notes(fill, "The pot") == ()
    assert "90 % full" in bath.pot_notes(0.9, "The pot")[0]


def test_a_pot_too_small_names_the_litres_it_needs():
    # by hand: (6 + 0.2) / 0.85 = 7.3 L
    with pytest.raises(InputError, match=r"pot of 5 L is too small for 6 L .* 7\.3 L or more; split") as caught:
        bath.pot_fill_frac(6.0, 0.2, 5.0)
    assert caught.value.limit == pytest.approx(7.294, abs=0.001)


@pytest.mark.parametrize(("ratio", "word"), [(10, "short"), (25, None), (60, "long")])
def test_an_unusual_liquor_is_said(ratio, word):
    notes = bath.liquor_notes(ratio)
    assert (word in notes[0]) if word else notes == ()


def test_a_lot_is_shared_in_proportion_to_the_pots():
    # by hand: 20 and 12 of 32 L
    assert bath.share_of_lot([20.0, 12.0]) == pytest.approx((0.625, 0.375))


@pytest.mark.parametrize(
    ("skeins", "volumes", "whole"),
    [(11, [20, 12], (7, 4)), (4, [12, 12], (2, 2)), (2, [30, 5], (1, 1)), (10, [10, 10, 10], (4, 3, 3))],
)
def test_skeins_stay_whole(skeins, volumes, whole):
    # by hand: one each, the rest by largest remainder: 11 on 20:12 is 1 + 5.625, 1 + 3.375
    assert bath.skeins_of_shares(skeins, bath.share_of_lot(volumes)) == whole


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: bath.dye_mass_g(0.0, 0.01), "above 0 g, got 0 g"),
        (lambda: bath.dye_mass_g(100.0, -0.01), r"between 0 and 100 %.*got -1 %"),
        (lambda: bath.dye_mass_g(100.0, 1.5), "got 150 %"),
        (lambda: bath.stock_volume_l(1.0, 0.0), "stronger than 0 %"),
        (lambda: bath.liquor_volume_l(100.0, 0.04), "above 1:1 and up to 1000:1"),
        (lambda: bath.water_to_add_l(0.1, 0.15), "less than the 0.15 L"),
        (lambda: bath.pot_fill_frac(1.0, 0.0, 0.0), "more than 0 L"),
        (lambda: bath.share_of_lot([]), "at least one pot"),
        (lambda: bath.skeins_of_shares(1, [0.5, 0.5]), "1 skein cannot fill 2 pots"),
    ],
)
def test_wrong_input_is_named_with_its_limit(wrong, words):
    with pytest.raises(InputError, match=words):
        wrong()


@pytest.mark.parametrize("kept_l_kg", [0.1, 8.1])
def test_a_skein_that_cannot_keep_so_much_or_so_little_is_weighed_again(kept_l_kg):
    with pytest.raises(InputError, match=r"keeps 0\.2 to 8 L a kilogram") as caught:
        bath.check_kept(kept_l_kg, field="rinse.kept")
    assert caught.value.field == "rinse.kept"
    assert bath.check_kept(1.4, field="rinse.kept") == 1.4
