import pytest

from dyewright.core.model import Settings, Spoons, Water
from dyewright.services.water_bench import assistant_names, blank_form, ph_words, water_bench

TYPED = {"liquor_l": "1 L", "alkalinity_mg_l": "100 mg/L", "what_1": "white vinegar 5 %", "amount_1": "1 tbsp"}


@pytest.mark.parametrize(
    ("ph", "words"),
    [
        (2.5, "Very sour"),
        (3.5, "levelling"),  # acid enough for levelling dyes: the project's decision, reference notes I0.10
        (4.75, "harmed least"),  # Broadbent p. 268: 4.5 to 5.0
        (5.5, "milling"),  # acid enough for milling dyes, I0.10
        (7.5, "tap water"),
        (9.0, "wool and silk suffer"),
        (11.0, "cotton"),
        (14.5, "cotton"),
    ],
)
def test_each_ph_has_its_sentence(ph, words):
    assert words in ph_words(ph)


def test_spoons_are_the_studios_own():
    settings = Settings("Test shed", spoons=Spoons.AUSTRALIAN, water=Water(80.0, 7.2, 12.0))

    bench = water_bench(TYPED, settings)

    assert bench.bath.doses[0].volume_l == pytest.approx(0.020)  # the Australian tablespoon
    assert bench.kitchen == ("1 tbsp",)
    assert blank_form(settings)["alkalinity_mg_l"] == "80 mg/L"
    assert blank_form(settings)["temperature_c"] == "12 °C"


def test_a_studio_that_said_nothing_has_unknown_water():
    assert blank_form(None)["alkalinity_mg_l"] == "unknown"


def test_marks_lie_along_a_scale_from_2_to_12():
    mark = water_bench(TYPED, None).marks[1]

    assert mark.at_percent == pytest.approx((mark.ph - 2) * 10)
    assert mark.low_percent == mark.at_percent == mark.high_percent


def test_a_row_without_an_amount_is_left_out():
    assert water_bench({**TYPED, "what_2": "citric acid"}, None).bath.doses[1:] == ()


def test_salts_are_not_offered_as_acids():
    assert "common salt" not in assistant_names()
    assert "white vinegar 5 %" in assistant_names()
