"""The page on water, filled in and got wrong."""

import html
import re

import pytest

TYPED = {
    "liquor_l": "1 L",
    "alkalinity_mg_l": "100 mg/L",
    "ph": "7.8",
    "what_1": "white vinegar 5 %",
    "amount_1": "5 mL",
}


def words(page):
    return " ".join(re.sub(r"<[^>]+>", " ", page.text).split()).replace("\u202f", " ")


def test_the_page_begins_with_this_studios_water(own):
    own.post("/shelf/settings", data={"name": "Test shed", "spoons": "US", "alkalinity": "120 mg/L", "scale": "0.1 g"})
    page = own.get("/water")

    assert page.status_code == 200
    assert 'value="120 mg/L"' in page.text
    assert 'value="white vinegar 5 %"' in page.text


def test_it_says_the_ph_and_what_that_means(own):
    page = words(own.get("/water", params=TYPED))

    assert "pH 4.7" in page  # reference notes J6: 4.690 with PHREEQC
    assert "most acid dyes go on well" in page
    assert "From your water’s own figures" in page


def test_the_usual_dose_stands_beside_it(own):
    page = words(own.get("/water", params={**TYPED, "liquor_l": "3 L", "dry_g": "100 g"}))

    # 2 tbsp of 15 mL in 8 cups of 250 mL is 15 mL/L: 45 mL in 3 L, for 100 g of yarn.
    assert "45 mL (3 tbsp) in this bath, 45 mL for each 100 g of yarn" in page
    assert "Common practice, no source" in page


def test_a_target_is_answered_with_an_amount(own):
    page = words(own.get("/water", params={**TYPED, "liquor_l": "5 L", "amount_1": "pH 4.69"}))

    assert re.search(r"2[45](\.\d)? mL of white vinegar 5 %", page)  # five times the 5 mL/L of row J6
    assert "Plan a pot with it" in page


def test_unknown_water_gives_a_range_in_words(own):
    page = words(own.get("/water", params={**TYPED, "alkalinity_mg_l": "unknown"}))

    assert "Between 3.6 and 6.0, as your water is not known" in page  # reference notes B2: 3.58 and 6.01


def test_more_than_one_addition_counts(own):
    one = own.get("/water", params=TYPED)
    two = own.get("/water", params={**TYPED, "what_2": "citric acid", "amount_2": "1 g"})

    assert words(one) != words(two)
    assert "weigh it" in words(two)


@pytest.mark.parametrize(
    ("what", "amount", "sentence"),
    [
        ("white vinegar 5 %", "5 mL", "Add acid to water"),
        ("acetic acid 56 %", "1 mL", "goggles, gloves, moving air"),
        ("soda ash", "5 g", "caustic to eyes"),
        ("ammonia 10 %", "5 mL", "vapour stings"),
    ],
)
def test_the_usual_caution_stands_there(own, what, amount, sentence):
    page = words(own.get("/water", params={**TYPED, "what_1": what, "amount_1": amount}))

    assert "Caution: " in page
    assert sentence in page


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"liquor_l": "6 zorks"}, "unknown unit 'zorks'"),
        ({"liquor_l": ""}, "nothing is written"),
        ({"liquor_l": "0 L"}, "above 0 L"),
        ({"alkalinity_mg_l": "-3 mg/L"}, "below 0"),
        ({"ph": "15"}, "0 to 14"),
        ({"dry_g": "0 g"}, "above 0 g"),
        ({"dry_g": "100 g", "fibre": "straw"}, "straw"),
        ({"what_1": "zork"}, "'zork' is not known"),
        ({"amount_1": "5 zorks"}, "unknown unit 'zorks'"),
        ({"amount_1": "pH 1"}, "out of reach"),
        ({"amount_1": "7 L"}, "alone are 7 L"),
    ],
)
def test_a_wrong_entry_keeps_what_was_typed_and_says_what_is_wrong(own, typed, sentence):
    page = own.get("/water", params={**TYPED, **typed})

    assert page.status_code == 422
    assert sentence in html.unescape(page.text)
    for text in {**TYPED, **typed}.values():
        assert f'value="{text}"' in page.text


def test_htmx_gets_the_bench_alone(own):
    page = own.get("/water", params=TYPED, headers={"HX-Request": "true"})

    assert page.text.lstrip().startswith("<div")
    assert "<html" not in page.text
    assert "HX-Request" in page.headers["vary"]
