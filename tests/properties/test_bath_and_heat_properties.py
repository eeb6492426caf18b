"""What must hold for any bath and any pot."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dyewright.core import bath, heat
from dyewright.core.model import CoolTo, Enter, Fibre, Heating, Hold, Pot, To, Yarn
from dyewright.data.practice import load_fibre_waters, load_heat_sources

masses = st.floats(1, 5000)
depths = st.floats(0, 0.1)
powers = st.floats(300, 4000)
waters = st.floats(1, 30)


@given(masses, depths, st.floats(1, 100))
def test_dye_grows_with_the_yarn_and_keeps_through_the_stock(dry_g, depth_owf, stock_g_l):
    dye = bath.dye_mass_g(dry_g, depth_owf)
    assert bath.dye_mass_g(2 * dry_g, depth_owf) == pytest.approx(2 * dye)
    assert bath.stock_volume_l(dye, stock_g_l) * stock_g_l == pytest.approx(dye)


@given(st.floats(1e-4, 200), st.sampled_from([0.01, 0.1, 1.0, 5.0]))
def test_a_hinted_stock_holds_the_dose_and_can_be_weighed(dye_g, resolution_g):
    hint = bath.stock_hint(dye_g, resolution_g)
    assert hint.volume_l * hint.stock_g_l >= dye_g * (1 - 1e-9)
    assert bath.weighing_error_frac(hint.powder_g, resolution_g) <= 0.05 + 1e-9


@given(st.lists(st.floats(1, 100), min_size=1, max_size=6), st.integers(0, 60))
def test_shares_make_the_whole_lot(volumes, extra):
    shares = bath.share_of_lot(volumes)
    assert sum(shares) == pytest.approx(1)
    skeins = len(volumes) + extra
    whole = bath.skeins_of_shares(skeins, shares)
    assert sum(whole) == skeins
    assert min(whole) >= 1


@given(st.floats(0, 1), masses)
def test_more_wool_in_a_blend_never_displaces_more_than_all_nylon(wool, dry_g):
    # wool is denser than nylon, so its share lowers the volume
    blend = Yarn({Fibre.WOOL: wool, Fibre.NYLON: 1 - wool}, dry_g)
    nylon = Yarn({Fibre.NYLON: 1.0}, dry_g)
    table = load_fibre_waters()
    assert bath.fibre_volume_l(blend, table) <= bath.fibre_volume_l(nylon, table) * (1 + 1e-12)


def loaded(water_l, power_w, *, has_lid=True, fibre_g=200.0):
    pot = Pot(1.5 * water_l, power_w=power_w, heating=Heating.INDUCTION, has_lid=has_lid)
    return heat.thermal_pot(pot, load_heat_sources()[Heating.INDUCTION], water_l=water_l, fibre_g=fibre_g)


programmes = st.tuples(st.floats(15, 50), st.floats(51, 98), st.one_of(st.none(), st.floats(0.3, 5)), st.floats(0, 60))


@settings(max_examples=25, deadline=None)
@given(waters, powers, st.booleans(), programmes)
def test_heat_given_is_kept_or_lost(water_l, power_w, has_lid, programme):
    enter_c, top_c, rate, hold_min = programme
    stages = [Enter(enter_c), To(top_c, rate), Hold(hold_min), CoolTo(60)]
    curve = heat.heat_curve(loaded(water_l, power_w, has_lid=has_lid), stages)
    assert curve.given_kj == pytest.approx(curve.kept_kj + curve.lost_kj, rel=1e-9, abs=1e-6)
    assert max(curve.bath_c) <= top_c + 0.01
    assert all(a < b for a, b in zip(curve.t_min[:-1], curve.t_min[1:], strict=True))


@settings(max_examples=25, deadline=None)
@given(waters, powers)
def test_a_lid_is_never_slower_and_saves_water(water_l, power_w):
    lidded, opened = (loaded(water_l, power_w, has_lid=lid) for lid in (True, False))
    stages = [Enter(20), To(70), Hold(20)]
    assert heat.stagnation_c(lidded) >= heat.stagnation_c(opened)
    with_lid, without = (heat.full_power_min(pot, 20, 70) for pot in (lidded, opened))
    assert without is None or with_lid <= without
    if without is not None:
        assert heat.heat_curve(lidded, stages).evaporated_l < heat.heat_curve(opened, stages).evaporated_l


@given(waters, powers, st.floats(1.01, 3))
def test_more_water_in_the_same_pot_is_never_faster(water_l, power_w, factor):
    pot = Pot(100.0, power_w=power_w, heating=Heating.INDUCTION)
    source = load_heat_sources()[Heating.INDUCTION]
    little, more = (
        heat.full_power_min(heat.thermal_pot(pot, source, water_l=litres, fibre_g=100.0), 20, 60)
        for litres in (water_l, water_l * factor)
    )
    assert (little is None) == (more is None)
    assert little is None or little < more
