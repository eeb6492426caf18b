"""The planning page as a browser without script uses it."""

import re
from html import unescape

import pytest

FOUR = {
    "yarn.dry": "250 g",
    "dye.1.name": "Reed",
    "dye.1.depth": "0.8 %",
    "assistant.1.kind": "white vinegar 5 %",
    "assistant.1.amount": "pH 5",
    "pot.1.volume": "12 L",
}


def words(page):
    """Return a page's text as a reader sees it."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.text)).split())


def hidden(page, name):
    return unescape(re.search(rf'name="{name}" value="([^"]*)"', page.text)[1])


def test_an_empty_page_asks_for_four_things_and_folds_the_rest(own):
    page = own.get("/plan")
    assert page.status_code == 200
    assert "What goes in the pot?" in page.text
    assert "<details>" in page.text
    assert "Keep this plan" not in page.text


def test_four_fields_give_the_sheet(own):
    page = own.post("/plan", data=FOUR)
    assert page.status_code == 200
    text = words(page)
    # by hand: 0.8 % of 250 g is 2 g; 30:1 of 250 g is 7.5 L
    for part in ("2.0 g", "7.5 L in all, 30:1", "Add acid to water", "Fibre not said", "The trade's rule"):
        assert part in text
    assert "<svg" in page.text


def test_the_chart_of_the_heat_is_drawn_for_its_column_and_not_for_paper(own):
    page = own.post("/plan", data=FOUR)
    drawn = re.search(r'<div class="chart"><svg[^>]* viewBox="0 0 ([\d.]+) ', page.text)
    assert float(drawn[1]) <= 360  # px, the column's and a phone's width: wider, its words shrink to nothing


def test_the_four_quick_fields_of_todays_page_lead_to_the_same_sheet(own):
    link = {"weight": "250 g", "dyes": "Reed 0,8 %; Straw 0.2 %", "acid": "white vinegar 5 %, to pH 5", "pot": "12 L"}
    text = words(own.get("/plan", params=link))
    assert "2.0 g" in text
    assert "0.5 g" in text  # by hand: 0.2 % of 250 g
    assert "to pH 5" in text


@pytest.mark.parametrize(
    ("changes", "sentence", "field"),
    [
        ({"yarn.dry": "250 zorks"}, "unknown unit 'zorks'", "yarn.dry"),
        ({"yarn.dry": "0 g"}, "above 0 g", "yarn.dry"),
        ({"dye.1.depth": "-1 %"}, "below 0 %", "dye.1.depth"),
        ({"dye.1.depth": ""}, "depth is missing", "dye.1.depth"),
        ({"dye.1.name": "", "dye.1.depth": "", "dye.2.name": "X"}, "depth is missing", "dye.2.depth"),
        ({"pot.1.volume": "3 L"}, "too small", "pot.1.volume"),
        ({"assistant.1.kind": "moonshine"}, "moonshine", "assistant.1.kind"),
        ({"assistant.1.amount": "pH 1"}, "out of reach", "assistant.1.amount"),
        ({"water.alkalinity": "-5"}, "below 0", "water.alkalinity"),
        ({"stage.4.hold": "soon"}, "cannot be read", "stage.4.hold"),
        ({"yarn.fibre": "straw 100"}, "straw", "yarn.fibre"),
    ],
)
def test_wrong_input_keeps_what_was_typed_and_stands_at_its_field(own, changes, sentence, field):
    page = own.post("/plan", data=FOUR | changes)
    assert page.status_code == 422
    assert sentence in words(page)
    for name, text in (FOUR | changes).items():
        if text:
            assert hidden(page, re.escape(name)) == text
    assert re.search(r'<input id="([^"]+)"[^>]*aria-invalid="true"', page.text)[1] == field


@pytest.mark.parametrize("changes", [{"yarn.dry": "0 g"}, {"pot.1.volume": "12 zorks"}, {"dye.1.depth": "-1 %"}])
def test_a_sentence_on_the_page_names_no_place_in_a_file_and_takes_the_reader_there(own, changes):
    page = own.post("/plan", data=FOUR | changes)
    sentence = unescape(re.search(r'<p class="wrong"[^>]*>([^<]*)</p>', page.text)[1])
    assert not sentence.startswith("[")
    assert next(iter(changes.values())) in sentence
    assert len(re.findall(r" autofocus", page.text)) == 1


def test_an_error_in_the_folded_part_opens_it(own):
    page = own.post("/plan", data=FOUR | {"water.ph": "20"})
    assert "<details open>" in page.text


def test_htmx_gets_only_the_block_that_it_swaps(own):
    page = own.post("/plan", data=FOUR, headers={"hx-request": "true"})
    assert page.text.lstrip().startswith('<div id="plan"')
    assert page.headers["vary"] == "HX-Request"


def test_kept_once_however_often_it_is_sent(own):
    page = own.post("/plan", data=FOUR)
    form = {name: hidden(page, name) for name in ("card", "run_id")}
    first = own.post("/plan/keep", data=form, follow_redirects=False)
    again = own.post("/plan/keep", data=form, follow_redirects=False)
    assert first.status_code == again.status_code == 303
    assert first.headers["location"] == again.headers["location"] == f"/runs/{form['run_id']}"


def test_the_sheet_prints_before_and_after_it_is_kept(own):
    page = own.post("/plan", data=FOUR)
    form = {name: hidden(page, name) for name in ("card", "run_id")}
    before = own.post("/plan/sheet.pdf", data={"card": form["card"]})
    own.post("/plan/keep", data=form, follow_redirects=False)
    after = own.get(f"/runs/{form['run_id']}/sheet.pdf")
    for answer in (before, after):
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF-")


def test_a_damaged_form_is_refused_with_a_sentence(own):
    page = own.post("/plan", data=FOUR)
    answer = own.post("/plan/keep", data={"card": hidden(page, "card"), "run_id": "no id"})
    assert answer.status_code == 422
    assert "load the page again" in words(answer)


def test_what_the_shelf_knows_fills_in(own):
    own.post("/shelf/dyes/new", data={"name": "Reed", "dye_class": "acid milling"})
    own.post("/shelf/bases/new", data={"name": "Shore", "fibres": "wool 100", "is_superwash": "on"})
    own.post("/shelf/pots/new", data={"name": "Large", "volume": "12 L", "heating": "gas", "power": "3 kW"})
    shelf = own.get("/plan").text
    assert "Shore" in shelf
    base = re.search(r'<option value="(\d+)"[^>]*>Shore', shelf)[1]
    page = own.post("/plan", data=FOUR | {"pot.1.volume": "large", "base": base})
    text = words(page)
    assert "superwash wool" in text
    assert "Large: power not said" not in text
    assert "kind of acid dye is not known" not in text


def test_a_colourway_leads_to_its_plan(fresh):
    colourway = re.search(r"/demo/plan\?colourway=(\d+)", fresh.get("/demo/colours").text)
    number = colourway[1] if colourway else "1"
    page = fresh.get("/demo/plan", params={"colourway": number, "weight": "100 g"})
    assert page.status_code == 200
    assert "Keep this plan" in page.text
    assert hidden(page, "colourway") == number


def test_a_run_of_the_demo_prints_as_it_was_planned(fresh):
    run = re.search(r"/demo/runs/([0-9a-f-]{36})", fresh.get("/demo/").text)
    assert run, "the demo's page of today names a run"
    answer = fresh.get(f"/demo/runs/{run[1]}/sheet.pdf")
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF-")


def chosen(page):
    return re.search(r'name="tonal" value="(\w+)" checked', page.text)[1]


def test_level_or_tonal_is_asked_first_and_begins_as_the_studio_likes_it(own):
    assert chosen(own.get("/plan")) == "false"
    tonal = own.post("/plan", data=FOUR | {"tonal": "true"})
    assert chosen(tonal) == "true"
    assert "tonal = true" in hidden(tonal, "card")
    own.post(
        "/shelf/settings",
        data={"name": "Shed", "spoons": "US", "alkalinity": "unknown", "scale": "0.1 g", "is_tonal_wanted": "on"},
    )
    assert chosen(own.get("/plan")) == "true"
    # Level said on the form holds against the studio's habit.
    level = own.post("/plan", data=FOUR | {"tonal": "false"})
    assert chosen(level) == "false"
    assert "Tonal skeins are wanted" not in words(level)


def test_a_dye_in_parts_is_planned_from_the_form(own):
    page = own.post("/plan", data=FOUR | {"dye.1.parts": "2", "dye.1.when": "start, 60 C"})
    assert page.status_code == 200
    assert "the second half of Reed" in words(page)
    assert 'when = ["start", "60 C"]' in hidden(page, "card")


def test_a_moment_that_cannot_be_stands_at_its_field(own):
    page = own.post("/plan", data=FOUR | {"dye.1.when": "start, soon"})
    assert page.status_code == 422
    assert "is no moment for a dye" in words(page)
    assert re.search(r'id="dye.1.when"[^>]*aria-invalid="true"', page.text)
    assert 'value="start, soon"' in page.text


def test_how_the_yarn_is_rinsed_goes_from_the_form_into_the_order_of_work(own):
    reactive = {**FOUR, "dye.1.class": "reactive dichlorotriazine", "dye.1.depth": "3 %", "rinse.handling": "still"}
    plain = words(own.post("/plan", data=reactive))
    treated = words(
        own.post(
            "/plan",
            data=reactive | {"rinse.temperature": "30 C", "rinse.kept": "1.2", "after_treatment": "on"},
        )
    )

    assert "Fresh bath with ammonia" in treated
    assert "lie still for five minutes" in treated
    assert "measured on a wet skein" in treated
    assert "Fresh bath with ammonia" not in plain
    # The after-treatment takes loose dye out: fewer waters are expected, and so many are on the sheet.
    counts = [int(re.search(r"Rinse 1(?: to \d+)? of (\d+)", text)[1]) for text in (plain, treated)]
    assert counts[1] < counts[0]


def test_a_skein_that_keeps_too_much_is_named_at_its_field(own):
    page = own.post("/plan", data={**FOUR, "rinse.kept": "20"})

    assert "keeps 0.2 to 8 L a kilogram" in words(page)
    assert 'value="20"' in page.text
