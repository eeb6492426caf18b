"""The shelf's pages, filled in and got wrong."""

import pytest


def test_a_dye_put_on_the_shelf_is_there(own):
    page = own.post("/shelf/dyes/new", data={"name": "Reed", "dye_class": "acid milling", "on_shelf_g": "40 g"})
    assert page.url.path == "/shelf"
    assert "Reed" in page.text
    assert "acid milling" in page.text


@pytest.mark.parametrize(
    ("kind", "typed", "named"),
    [
        ("pots", {"name": "Big", "volume": "12 zorks"}, "zorks"),
        ("pots", {"name": "Big", "volume": "0"}, "above 0 L"),
        ("bases", {"name": "Shawl", "fibres": "wool 80"}, "80 %"),
        ("dyes", {"name": "", "note": "from the market"}, "has no name"),
        ("dyes", {"name": "Reed", "price_per_g": "-1"}, "0 or more"),
    ],
)
def test_a_wrong_entry_keeps_what_was_typed_and_says_what_is_wrong(own, kind, typed, named):
    page = own.post(f"/shelf/{kind}/new", data=typed)
    assert page.status_code == 422
    assert named in page.text
    for text in typed.values():
        assert text in page.text


def test_water_unknown_is_the_default_and_can_be_said(own):
    assert "not known: pH is a range" in own.get("/shelf").text
    typed = {"name": "Test shed", "spoons": "US", "alkalinity": "6 °dH", "scale": "0.01 g"}
    page = own.post("/shelf/settings", data=typed)
    assert (
        "107.1 mg/L" in page.text
    )  # 6 × 17.85 mg/L CaCO3 a degree, one degree of hardness is 10 mg CaO a litre: 10 × 100.09 / 56.08


def test_a_thing_taken_off_the_shelf_is_gone(own):
    own.post("/shelf/dyes/new", data={"name": "Reed"})
    page = own.post("/shelf/dyes/1/remove")
    assert "Reed" not in page.text


def test_there_is_no_other_kind_of_thing(own):
    assert own.get("/shelf/spoons/new").status_code == 404


def test_an_amount_comes_back_as_it_was_typed(own):
    own.post("/shelf/dyes/new", data={"name": "Reed", "on_shelf_g": "142.5", "price_per_g": "0.21"})
    page = own.get("/shelf/dyes/1").text
    assert 'value="142.5"' in page
    assert 'value="0.21"' in page


def test_a_tolerance_of_nothing_is_refused_and_not_passed_over(own):
    typed = {"name": "Test shed", "spoons": "US", "alkalinity": "unknown", "scale": "0.1 g", "tolerance": "0"}
    page = own.post("/shelf/settings", data=typed)
    assert page.status_code == 422
    assert "above 0 ΔE00" in page.text
    assert 'value="0"' in page.text
