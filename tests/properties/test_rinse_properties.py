"""What must hold of bonding and rinsing for all input."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyewright.core.model import DyeClass
from dyewright.core.reactive import CelluloseBath, CelluloseDraws, bonded_on_protein, on_cellulose, stock_active_frac
from dyewright.core.rinse import Drained, dye_in_waters_mg_l, waters_needed, whole_waters
from dyewright.data.after_dyeing import load_reactive

COTTON_CLASSES = [dye_class for dye_class, row in load_reactive().items() if row.cellulose is not None]
loads = st.lists(st.floats(0.1, 30_000), min_size=1, max_size=3)
kept = st.floats(0.3, 5.0)
held = st.floats(0.0, 5.0)
efficiency = st.floats(0.3, 1.0)
water = st.floats(3.0, 60.0)


def carried(load, kept_l_kg, held_l_kg, efficiency_frac, water_l_kg, count=30):
    drained = Drained(np.array([load]), np.array([kept_l_kg]), np.array([efficiency_frac]))
    return dye_in_waters_mg_l(drained, water_l_kg, np.full((1, len(load), count), held_l_kg))


def needed(*how):
    return whole_waters(waters_needed(carried(*how), 1.0))[0]


@given(loads, kept, held, efficiency, water)
def test_what_the_waters_carry_is_what_the_yarn_loses(load, kept_l_kg, held_l_kg, efficiency_frac, water_l_kg):
    waters = carried(load, kept_l_kg, held_l_kg, efficiency_frac, water_l_kg)[0]
    left = sum(load)
    for dye_mg_l in waters:
        # With one K_r for all dyes they fall together: c = η m/(w + K_r + V).
        expected = efficiency_frac * left / (kept_l_kg + held_l_kg + water_l_kg)
        assert dye_mg_l == pytest.approx(expected, rel=1e-6, abs=1e-9)
        left -= water_l_kg * dye_mg_l
    assert left >= -1e-6


@given(loads, kept, held, efficiency, water, st.floats(1.0, 3.0))
def test_more_rinse_water_never_needs_more_rinses(load, kept_l_kg, held_l_kg, efficiency_frac, water_l_kg, factor):
    more, less = (needed(load, kept_l_kg, held_l_kg, efficiency_frac, v) for v in (factor * water_l_kg, water_l_kg))

    assert more <= less


@given(loads, held, st.floats(0.5, 1.0), st.floats(15.0, 60.0))
def test_spinning_never_needs_more_rinses_than_dripping(load, held_l_kg, efficiency_frac, water_l_kg):
    dripping, spun = (needed(load, w, held_l_kg, efficiency_frac, water_l_kg) for w in (3.5, 0.6))

    # The dye is on the fibre, the same for both. What dripping yarn brings thins its waters, what spun yarn sheds
    # leaves less for the next. By hand, c = η m f^(n-1)/(w + K + V): in these ranges the second outdoes the first from
    # the third water on, so that where one or two waters do for dripping yarn, the spun one may want one more.
    assert spun <= max(dripping, min(dripping + 1, 3))


@given(st.floats(1.0, 10_000), kept, held, efficiency, water, st.floats(1.0, 20.0))
def test_more_to_wash_out_never_needs_fewer_rinses(load, kept_l_kg, held_l_kg, efficiency_frac, water_l_kg, factor):
    more, less = (needed([m], kept_l_kg, held_l_kg, efficiency_frac, water_l_kg) for m in (factor * load, load))

    assert more >= less


@given(loads, kept, efficiency, water)
def test_the_count_is_the_first_clear_water(load, kept_l_kg, efficiency_frac, water_l_kg):
    waters = carried(load, kept_l_kg, 0.0, efficiency_frac, water_l_kg, count=60)[0]
    clear = np.flatnonzero(waters <= 1.0)

    if clear.size and not np.isclose(waters, 1.0, rtol=1e-6).any():
        assert needed(load, kept_l_kg, 0.0, efficiency_frac, water_l_kg, 60) == clear[0] + 1


normal = st.floats(-3.0, 3.0)


@given(
    st.sampled_from(COTTON_CLASSES),
    st.floats(15.0, 95.0),
    st.floats(4.0, 12.5),
    st.floats(5.0, 60.0),
    st.floats(0.0, 1.0),
    st.tuples(normal, normal, normal, normal),
    st.floats(0.1, 10.0),
    st.floats(0.0, 1.0),
)
def test_dye_on_cotton_is_bonded_used_up_or_left(dye_class, at_c, ph, liquor_l_kg, salt, draws, load, active):
    t = np.arange(0.0, 121.0, 10.0)
    full = np.ones_like(t)
    bath = CelluloseBath(t, at_c * full, ph * full, ph * full, salt * full, liquor_l_kg)
    numbers = [np.array([draw]) for draw in draws]
    course = on_cellulose(
        bath,
        load_reactive()[dye_class],
        CelluloseDraws(*numbers, ph_position=np.zeros(1), load_factor=np.array([load]), active_frac=np.array([active])),
    )

    assert course.fixed.min() >= 0
    assert np.all(np.diff(course.fixed) >= -1e-12)
    assert np.all(course.fixed + course.hydrolysed <= 1 + 1e-9)
    assert np.all((course.exhaustion >= course.fixed - 1e-12) & (course.exhaustion <= 1 + 1e-12))
    assert course.fixed[0, -1] <= active + 1e-9


@given(st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4), st.floats(20.0, 100.0), st.floats(2.0, 60.0))
def test_no_more_bonds_on_protein_than_was_ever_on_it(levels, at_c, half_life_min):
    exhaustion = np.sort(levels)[None, None, :]
    t = np.array([0.0, 5.0, 20.0, 60.0])
    reacted = bonded_on_protein(t, np.full(4, at_c), exhaustion, np.array([half_life_min]))

    assert np.all(reacted <= exhaustion + 1e-9)
    assert np.all(np.diff(reacted) >= 0)


@given(st.sampled_from(list(DyeClass)), st.floats(0.0, 400.0), st.floats(0.0, 100.0), normal, normal)
def test_a_stock_only_gets_older(dye_class, days, more_days, life, warmth):
    row = load_reactive().get(dye_class)
    if row is None:
        return
    young, old = (float(stock_active_frac(row, d, life, warmth)) for d in (days, days + more_days))

    assert 0 <= old <= young <= 1
