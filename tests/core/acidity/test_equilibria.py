import pytest

from dyewright.core.acidity import activity_coefficient, pk_at, water_density_kg_l
from dyewright.core.model.acidity import AcidStep


def test_pk_at_25_is_the_tables_own():
    assert pk_at(AcidStep(4.757, -0.41, -0.142), 25.0) == pytest.approx(4.757, abs=1e-12)


def test_without_heat_capacity_the_form_is_vant_hoffs():
    # By hand: d log K = -dH/(R ln 10) (1/T2 - 1/T1); 52 kJ/mol from 25 to 60 °C: 2716.0 * 3.5236e-4 = 0.9571.
    assert 9.244 - pk_at(AcidStep(9.244, 52.0, 0.0), 60.0) == pytest.approx(0.957, abs=0.001)


# Density of water, CRC Handbook: 0.99704 at 25 °C, 0.97180 at 80 °C. From memory.
@pytest.mark.parametrize(("temperature_c", "density"), [(4, 0.99997), (25, 0.99704), (80, 0.97180)])
def test_density_of_water(temperature_c, density):
    assert water_density_kg_l(temperature_c) == pytest.approx(density, abs=2e-5)


def test_activity_coefficients_by_hand():
    # Davies at I = 0.1: root 0.31623; 0.31623/1.31623 - 0.03 = 0.21025; times 0.511: 0.10744 -> gamma 0.7808.
    assert activity_coefficient(1, 0.1, 0.511) == pytest.approx(0.7808, abs=1e-4)
    assert activity_coefficient(-2, 0.1, 0.511) == pytest.approx(0.7808**4, abs=1e-4)
    assert activity_coefficient(0, 0.1, 0.511) == 1


def test_activity_coefficients_stay_beyond_the_limit():
    assert activity_coefficient(1, 2.0, 0.511) == activity_coefficient(1, 0.5, 0.511)
