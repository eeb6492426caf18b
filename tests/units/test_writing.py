import pytest

from dyewright import units
from dyewright.errors import InputError

THIN = "\u202f"


# By hand: 75 mL is 5 spoons of 15 mL; 375 mL is one and a half cups of 250 mL; 30 mL is 1.5 spoons of 20 mL.
@pytest.mark.parametrize(
    ("volume_ml", "spoons", "text"),
    [
        (75, "metric", "5 tbsp"),
        (2.5, "metric", "1/2 tsp"),
        (1.25, "metric", "1/4 tsp"),
        (0.625, "metric", "1/8 tsp"),
        (5, "metric", "1 tsp"),
        (375, "metric", "1 1/2 cups"),
        (250, "metric", "1 cup"),
        (20, "metric", "1 tbsp + 1 tsp"),
        (280, "metric", "1 cup + 2 tbsp"),
        (236.5882365, "US", "1 cup"),
        (30, "Australian", "1 1/2 tbsp"),
        (0, "metric", "0 tsp"),
        (0.1, "metric", "under 1/8 tsp"),
        (5000, "metric", "5 L"),
    ],
)
def test_kitchen_measures(volume_ml, spoons, text):
    assert units.kitchen(volume_ml / 1000, spoons) == text


def test_kitchen_refuses_unknown_spoons():
    with pytest.raises(InputError, match="metric, US, UK, Australian"):
        units.kitchen(0.1, "martian")


@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (units.show_mass(0.84), "0.84 g"),
        (units.show_mass(2), "2 g"),
        (units.show_mass(250), "250 g"),
        (units.show_mass(1234.4), "1.23 kg"),
        (units.show_mass(999.7), "1 kg"),
        (units.show_mass(0.8449, resolution_g=0.01), "0.84 g"),
        (units.show_mass(250, resolution_g=0.1), "250.0 g"),
        (units.show_mass(12.3, resolution_g=0.5), "12.5 g"),
        (units.show_volume(0.0754), "75.4 mL"),
        (units.show_volume(6), "6 L"),
        # a 1 mL syringe has marks at 0.01 mL, larger ones at 0.1 or 0.2 mL: common practice, no source
        (units.show_volume(0.000748), "0.75 mL"),
        (units.show_volume(0.000997), "1 mL"),
        (units.show_volume(0.00748), "7.5 mL"),
        (units.show_volume(0.0025), "2.5 mL"),
        (units.show_volume(0.02), "20 mL"),
        (units.show_volume(0.000004), "under 0.01 mL"),
        (units.show_volume(0), "0 mL"),
        (units.show_temperature(88.4), "88 °C"),
        (units.show_temperature(-5), "−5 °C"),
        (units.show_temperature(-0.2), "0 °C"),
        (units.show_percent(0.008), "0.8 %"),
        (units.show_percent(1), "100 %"),
        (units.show_duration(45), "45 min"),
        (units.show_duration(95), "1 h 35 min"),
        (units.show_duration(120), "2 h"),
        (units.show_duration(0.5), "30 s"),
    ],
)
def test_amounts_as_a_sheet_shows_them(shown, text):
    assert shown.replace(THIN, " ") == text


def test_number_and_unit_stay_on_one_line():
    assert units.show_mass(2) == f"2{THIN}g"
