import pint
import pytest

from dyewright import units
from dyewright.core.model import Spoons
from dyewright.errors import InputError
from dyewright.units import Dimension, Quantity, scales


# Worked by hand from the sizes in NIST Handbook 44: 1 oz = 28.349523125 g, 1 lb = 453.59237 g.
@pytest.mark.parametrize(
    ("text", "expected_g"),
    [
        ("250 g", 250),
        ("250g", 250),
        ("0,5 g", 0.5),
        (".5 g", 0.5),
        ("1.2 kg", 1200),
        ("12 500 g", 12500),
        ("12\u202f500\u00a0g", 12500),
        ("9 oz", 255.145708125),
        ("1 lb 3 oz", 538.640939375),
        ("1 lb and 3 oz", 538.640939375),
        ("½ lb", 226.796185),
        ("1 1/2 lb", 680.388555),
        ("1½ lb", 680.388555),
    ],
)
def test_masses(text, expected_g):
    assert units.mass_g(text) == pytest.approx(expected_g)


@pytest.mark.parametrize(
    ("text", "spoons", "expected_ml"),
    [
        # NIST, Cooking measurement equivalencies: 5 mL the teaspoon, 15 the tablespoon, 30 the fluid ounce.
        ("1 tsp", "metric", 5),
        ("2 tbsp", "metric", 30),
        ("8 fl oz", "metric", 240),
        ("1 1/2 cups", "metric", 375),
        ("1 cup + 2 tbsp", "metric", 280),
        # NIST Handbook 44: exact.
        ("1 tsp", "US", 4.92892159375),
        ("1 cup", "US", 236.5882365),
        ("1 gallon", "US", 3785.411784),
        # Weights and Measures Act 1985: a gallon is 4.54609 L, a pint an eighth, a fluid ounce a twentieth of that.
        ("1 pint", "UK", 568.26125),
        ("1 cup", "UK", 284.130625),
        ("1 fl oz", "UK", 28.4130625),
        # The Australian tablespoon.
        ("1 tbsp", "Australian", 20),
        ("6 L", "metric", 6000),
        ("2 US gallons", "metric", 7570.823568),
        ("1,5 l", "metric", 1500),
    ],
)
def test_volumes(text, spoons, expected_ml):
    assert units.volume_l(text, spoons) * 1000 == pytest.approx(expected_ml, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "expected_c"),
    [
        ("60 C", 60),
        ("180 F", 82.2222222),  # (180 - 32) * 5/9
        ("180 °F", 82.2222222),
        ("180 deg F", 82.2222222),
        ("-40 F", -40),  # where the two scales meet
        ("−5 °C", -5),
        ("300 K", 26.85),
    ],
)
def test_temperatures(text, expected_c):
    assert units.temperature_c(text) == pytest.approx(expected_c)


@pytest.mark.parametrize(
    ("read", "text", "expected"),
    [
        (units.length_m, "28 cm", 0.28),
        (units.length_m, '11"', 0.2794),  # 11 * 0.0254
        (units.power_w, "1.8 kW", 1800),
        (units.power_w, "9000 BTU/h", 2637.6396),  # 9000 * 1055.05585262 / 3600
        (units.duration_min, "1 h 30 min", 90),
        (units.duration_min, "1 1/2 hours", 90),
        (units.duration_min, "45 s", 0.75),
        (units.ramp_c_per_min, "1 C/min", 1),
        (units.ramp_c_per_min, "1.8 °F/min", 1),
        (units.ramp_c_per_min, "60 C/h", 1),
        (units.turns_per_min, "0.5 /min", 0.5),
        (units.turns_per_min, "every 2 min", 0.5),
        (units.turns_per_min, "once every minute", 1),
        (units.frac, "0.8 %", 0.008),
        (units.frac, "0.8 % owf", 0.008),
        (units.liquor_l_kg, "25:1", 25),
        (units.liquor_l_kg, "1:25", 25),
        (units.liquor_l_kg, "25 L/kg", 25),
        (units.concentration_g_l, "5 g/L", 5),
        (units.concentration_g_l, "1 %", 10),
        (units.concentration_g_l, "2 g/100 mL", 20),
        (units.ph, "pH 4.5", 4.5),
        (units.ph, "4,5", 4.5),
    ],
)
def test_other_dimensions(read, text, expected):
    assert read(text) == pytest.approx(expected, rel=1e-7)


# 100 mg/L as CaCO3 is 1.998 meq/L; the national degrees as in the reference notes, B2.
@pytest.mark.parametrize(
    ("text", "expected_mg_l"),
    [
        ("110 mg/L", 110),
        ("110 ppm", 110),
        ("100 mg/L as CaCO3", 100),
        ("2 meq/L", 100.08),
        ("122 mg/L HCO₃⁻", 100.04),  # 122 * 0.820
        ("6 °dH", 107.1),
        ("10 °fH", 100),
        ("7 °Clark", 99.75),
        ("5 gpg", 85.6),
        ("0 mg/L", 0),
        ("0", 0),
        ("unknown", None),
        ("Unknown", None),
    ],
)
def test_alkalinities(text, expected_mg_l):
    assert units.alkalinity_mg_l(text) == (None if expected_mg_l is None else pytest.approx(expected_mg_l))


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("25 mL", Dimension.VOLUME, 0.025),
        ("2 tbsp", Dimension.VOLUME, 0.03),
        ("8 fl oz", Dimension.VOLUME, 0.24),
        ("2 g", Dimension.MASS, 2),
        ("1 oz", Dimension.MASS, 28.349523125),
        ("2 % owf", Dimension.OWF, 0.02),
        ("2 %", Dimension.OWF, 0.02),
        ("5 g/L", Dimension.BATH_MASS, 5),
        ("15 mL/L", Dimension.BATH_VOLUME, 0.015),
        ("2 tbsp per 8 cups", Dimension.BATH_VOLUME, 0.015),  # 30 mL in 2 L
        ("10 g per 2 L", Dimension.BATH_MASS, 5),
        ("pH 4.5", Dimension.PH, 4.5),
    ],
)
def test_an_amount_tells_its_dimension(text, dimension, value):
    assert units.quantity(text) == Quantity(dimension, pytest.approx(value))


def test_a_bare_number_needs_a_default_unit():
    assert units.volume_l("5", default_unit="L") == 5
    assert units.temperature_c("14", default_unit="C") == 14
    assert units.frac("0.8", bare_percent=True) == pytest.approx(0.008)
    with pytest.raises(InputError, match="unit is missing"):
        units.volume_l("5")
    with pytest.raises(InputError, match="unit is missing"):
        units.frac("0.8")


@pytest.mark.parametrize(
    ("read", "text", "words"),
    [
        (units.volume_l, "5 zorks", "volume '5 zorks': unknown unit 'zorks'; use L, mL"),
        (units.volume_l, "1 gallon", "US gallon"),
        (units.mass_g, "", "nothing is written"),
        (units.mass_g, "some", "cannot be read"),
        (units.mass_g, "-5 g", "below 0"),
        (units.mass_g, "1,500 g", "1500 or 1.500"),
        (units.mass_g, "1e999 g", "too large"),
        (units.mass_g, "nan g", "cannot be read"),
        (units.mass_g, "1/0 g", "fraction over 0"),
        (units.mass_g, "1 g 5", "5 has no unit"),
        (units.frac, "-1 %", "below 0 %"),
        (units.temperature_c, "-300 C", "absolute zero"),
        (units.temperature_c, "warm", "cannot be read"),
        (units.temperature_c, "20 hot", "unknown unit 'hot'"),
        (units.turns_per_min, "every 0 min", "above 0"),
        (units.liquor_l_kg, "0:25", "above 0"),
        (units.liquor_l_kg, "0 L/kg", "above 0"),
        (units.liquor_l_kg, "1:2:3", "cannot be read"),
        (units.alkalinity_mg_l, "-5 mg/L", "unknown"),
        (units.ph, "15", "0 to 14"),
        (units.ph, "sour", "cannot be read"),
        (units.quantity, "2 zorks", "unknown unit 'zorks'"),
        (units.quantity, "2", "unit is missing"),
        (units.quantity, "1 lb 2 cups", "unknown unit 'cups'"),
        (units.quantity, "2 tbsp per 0 L", "above 0 L"),
    ],
)
def test_what_cannot_be_read_gets_a_sentence(read, text, words):
    with pytest.raises(InputError, match=words) as caught:
        read(text, field="there")

    assert caught.value.field == "there"


def test_unknown_spoons_are_named_with_the_known_ones():
    with pytest.raises(InputError, match="metric, US, UK, Australian"):
        units.volume_l("1 cup", "martian")


def test_the_sets_of_spoons_are_those_of_a_studio():
    assert set(units.SPOONS) == {str(spoons) for spoons in Spoons}


# The same units in pint 0.25, an independent implementation, by its own names.
@pytest.mark.parametrize(
    ("scale", "ours", "theirs", "core_unit"),
    [
        (scales.MASS, "oz", "ounce", "gram"),
        (scales.MASS, "lb", "pound", "gram"),
        (scales.LENGTH, "in", "inch", "metre"),
        (scales.POWER, "BTU/h", "international_british_thermal_unit / hour", "watt"),
        (scales.volume_scale("US"), "tsp", "teaspoon", "litre"),
        (scales.volume_scale("US"), "tbsp", "tablespoon", "litre"),
        (scales.volume_scale("US"), "cup", "cup", "litre"),
        (scales.volume_scale("US"), "gallon", "gallon", "litre"),
        (scales.volume_scale("UK"), "fl oz", "imperial_fluid_ounce", "litre"),
        (scales.volume_scale("UK"), "pint", "imperial_pint", "litre"),
        (scales.RAMP, "°F/min", "delta_degree_Fahrenheit / minute", "delta_degree_Celsius / minute"),
    ],
)
def test_sizes_agree_with_pint(scale, ours, theirs, core_unit):
    registry = pint.UnitRegistry()

    assert scale.factor(ours) == pytest.approx(registry.Quantity(1, theirs).to(core_unit).magnitude, rel=1e-7)
