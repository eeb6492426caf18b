from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyewright import units
from dyewright.errors import InputError

SPOONS = st.sampled_from(sorted(units.SPOONS))
AMOUNTS = st.floats(1e-3, 1e5)


@given(AMOUNTS)
def test_a_shown_mass_reads_back(mass_g):
    # 0.5 %: three digits are shown.
    assert units.mass_g(units.show_mass(mass_g)) == pytest.approx(mass_g, rel=0.0051)


@given(st.floats(1e-5, 1e3))
def test_a_shown_volume_reads_back(volume_l):
    # Half of what is drawn: of 0.01 mL below 1 mL, of 0.1 mL below 20 mL; 0.5 % from there, for three digits are shown.
    half_l = 5.1e-6 if volume_l < 0.001 else 5.1e-5 if volume_l < 0.02 else 0.0051 * volume_l
    assert units.volume_l(units.show_volume(volume_l)) == pytest.approx(volume_l, rel=0, abs=half_l)


@given(st.floats(-50, 200))
def test_a_shown_temperature_reads_back(temperature_c):
    assert units.temperature_c(units.show_temperature(temperature_c)) == pytest.approx(temperature_c, abs=0.5001)


@given(st.floats(1e-4, 5))
def test_a_shown_percentage_reads_back(frac):
    assert units.frac(units.show_percent(frac)) == pytest.approx(frac, rel=0.0051)


@given(st.floats(1, 5000))
def test_a_shown_time_reads_back(duration_min):
    assert units.duration_min(units.show_duration(duration_min)) == pytest.approx(duration_min, abs=0.51)


@given(st.floats(0.0045, 5), SPOONS)
def test_spoons_and_cups_are_within_an_eighth_of_the_volume(volume_l, spoons):
    # From a teaspoon up: a quarter of a teaspoon either way is an eighth of one; above a tablespoon it is much less.
    assert units.volume_l(units.kitchen(volume_l, spoons), spoons) == pytest.approx(volume_l, rel=0.125)


@given(st.floats(0.03, 5), SPOONS)
def test_spoons_and_cups_are_close_from_two_tablespoons_up(volume_l, spoons):
    assert units.volume_l(units.kitchen(volume_l, spoons), spoons) == pytest.approx(volume_l, rel=0.06)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_in_a_sentence(text):
    for read in (units.mass_g, units.volume_l, units.temperature_c, units.alkalinity_mg_l, units.quantity, units.frac):
        with suppress(InputError):  # any other error fails the test
            read(text)


@given(st.floats(0, 1000, allow_subnormal=False))
def test_more_is_more(mass_g):
    assert units.mass_g(f"{mass_g + 1:.6f} g") > units.mass_g(f"{mass_g:.6f} g")
