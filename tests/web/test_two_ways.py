"""Two ways side by side, and a pot's heat-up, as a browser without script meets them."""

import re
from html import unescape

import pytest

CARD = """title = "Blue"
[yarn]
fibre = { wool = 100 }
dry = "200 g"
[[dye]]
name = "Heather"
class = "acid milling"
depth = "1 %"
"""


def text_of(page):
    words = re.sub(r"\s+", " ", unescape(re.sub(r"<(?:svg.*?/svg|[^>]+)>", " ", page.text, flags=re.DOTALL)))
    return words.replace("\u202f", " ").replace("\xa0", " ")


def fields_of(page):
    """The texts of the page's large form, as a browser would send them back."""
    form = page.text[page.text.index('<form class="stack wide" method="post"') :]
    form = form[: form.index("</form>")]
    fields = dict(re.findall(r'<input[^>]*?name="([^"]+)"[^>]*?value="([^"]*)"', form, re.DOTALL))
    for name, options in re.findall(r'<select[^>]*name="([^"]+)".*?>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'<option value="([^"]*)" selected', options)
        fields[name] = chosen[1] if chosen else re.search(r'<option value="([^"]*)"', options)[1]
    return {name: unescape(value) for name, value in fields.items()}


@pytest.fixture
def stocked(own):
    for name, dye_class in (("Heather", "acid milling"), ("Bluebell", "reactive bromoacrylamide")):
        own.post("/shelf/dyes/new", data={"name": name, "dye_class": dye_class, "price_per_g": "0.30"})
    own.post("/shelf/bases/new", data={"name": "Fellside wool", "fibres": "wool"})
    own.post("/shelf/pots/new", data={"name": "Middle pot", "volume": "12 L", "power": "1800 W", "has_lid": "on"})
    return own


def test_an_empty_studio_is_told_what_is_needed(own):
    page = own.get("/two-ways")
    assert page.status_code == 200
    assert "With two dyes and a base on the shelf they can be compared here." in text_of(page)


def test_the_ready_pair_leads_to_a_verdict_a_table_and_a_chart(stocked):
    assert "Heather or Bluebell on Fellside wool?" in text_of(stocked.get("/two-ways"))
    page = stocked.get("/two-ways?dye=Heather&other=Bluebell&base=Fellside wool")
    assert page.status_code == 200
    words = text_of(page)
    assert "The reactive way" in words
    assert "Rinses until clear" in words
    assert page.text.count("<svg") >= 2


def test_a_plan_can_be_set_beside_another_way_and_edited(stocked):
    begun = stocked.post("/two-ways", data={"card": CARD})
    assert "Set another way beside it" in text_of(begun)
    page = stocked.post("/two-ways", data=fields_of(begun) | {"change": "reactive"})
    assert "2 Bluebell" in text_of(page)

    fields = fields_of(page)
    again = stocked.post("/two-ways", data=fields | {"right.dye.1.depth": "3 %", "price": "0.45"})
    assert again.status_code == 200
    assert "Bluebell 3 %" in text_of(again)
    assert fields_of(again)["price"] == "0.45"


def test_nothing_typed_is_lost_on_an_error(stocked):
    page = stocked.post("/two-ways", data={"card": CARD, "change": "slower"})
    wrong = stocked.post("/two-ways", data=fields_of(page) | {"right.dye.1.depth": "lots", "left.dye.1.depth": "2 %"})
    assert wrong.status_code == 422
    assert fields_of(wrong)["right.dye.1.depth"] == "lots"
    assert fields_of(wrong)["left.dye.1.depth"] == "2 %"
    assert 'aria-invalid="true"' in wrong.text


def test_a_plan_and_a_run_lead_here(stocked):
    plan = stocked.get("/plan?weight=200 g&dyes=Heather 1&pot=12 L")
    assert 'action="/two-ways"' in plan.text
    card = unescape(re.search(r'name="card" value="([^"]*)"', plan.text)[1])
    run = stocked.post("/plan/keep", data={"card": card, "run_id": "c9a6f2b4-5b1e-4b7a-9f0d-0d1e5eed0301"})
    link = re.search(r'href="(/two-ways\?run=[^"]+)"', run.text)[1]
    assert "Which way?" in text_of(stocked.get(link))


def test_a_heat_up_is_entered_shown_used_and_taken_away(stocked):
    readings = {"water": "8 L", "heat_up_lid": "on"}
    for place, (minute, degrees) in enumerate([(0, 15), (10, 36.5), (20, 57.1), (30, 76.8)], start=1):
        readings |= {f"reading.{place}.min": str(minute), f"reading.{place}.c": str(degrees)}
    page = stocked.post("/shelf/pots/1/heat-ups", data=readings)
    assert page.status_code == 200
    assert "W go into the pot" in text_of(page)

    plan = stocked.get("/plan?weight=200 g&dyes=Heather 1&pot=Middle pot")
    assert "heats as measured" in text_of(plan)
    gone = stocked.post("/shelf/pots/1/heat-ups/1/remove")
    assert "W go into the pot" not in text_of(gone)


def test_a_wrong_heat_up_keeps_what_was_typed(stocked):
    typed = {"water": "8 L", "reading.1.min": "0", "reading.1.c": "15", "reading.2.min": "20", "reading.2.c": "300"}
    page = stocked.post("/shelf/pots/1/heat-ups", data=typed)
    assert page.status_code == 422
    assert "300 °C at 20 min" in text_of(page)
    assert 'value="300"' in page.text
    assert "Middle pot" in text_of(page)
