"""The pot screen where it is used: a phone that sleeps, reloads and loses the network."""

import re

import pytest
from playwright.sync_api import expect

from dyewright.services.questions import SureLimits, ask


@pytest.fixture
def pot(page, address):
    """The pot screen of the demo's planned run, with the address it stands at."""
    page.goto(f"{address}/demo/")
    page.get_by_role("link", name="two spares of sea-green 5").click()
    page.get_by_role("link", name="To the pot").click()
    page.wait_for_url("**/pot")  # its script is loaded then
    return page


def go_to_the_yarn(page):
    for _ in range(20):
        is_entering = page.locator("#next-step").inner_text() == "Yarn in, heat on"
        title = page.locator("#step-title").inner_text()
        page.locator("#next-step").click()
        expect(page.locator("#step-title")).not_to_have_text(title)
        if is_entering:
            return
    pytest.fail("no step put the yarn in")


@pytest.mark.browser
def test_taps_made_out_of_reach_are_kept_and_sent_later(pot, faults_of):
    go_to_the_yarn(pot)
    expect(pot.locator("#saved")).to_have_text("saved")
    title = pot.locator("#step-title").inner_text()

    pot.context.set_offline(True)
    pot.get_by_role("button", name="½ in").click()
    pot.locator("#next-step").click()
    expect(pot.locator("#saved")).to_have_text("2 waiting to be sent")
    expect(pot.locator("#step-title")).not_to_have_text(title)
    assert not faults_of(pot)

    pot.context.set_offline(False)
    expect(pot.locator("#saved")).to_have_text("saved", timeout=20000)
    pot.reload()
    expect(pot.locator("#step-title")).not_to_have_text(title)
    expect(pot.get_by_role("button", name="½ in")).to_have_attribute("aria-pressed", "true")


@pytest.mark.browser
def test_the_time_left_is_the_same_after_a_reload(pot):
    go_to_the_yarn(pot)
    before = pot.locator("#clock-line").inner_text()
    assert re.fullmatch(r"left, until \d\d:\d\d by the clock", before)
    expect(pot.locator("#saved")).to_have_text("saved")
    pot.reload()
    expect(pot.locator("#clock-line")).to_have_text(before)
    assert re.fullmatch(r"(\d+:)?\d\d:\d\d", pot.locator("#clock").inner_text())


@pytest.mark.browser
def test_a_temperature_may_be_typed_in_fahrenheit_and_what_is_none_is_refused_on_the_spot(pot):
    go_to_the_yarn(pot)
    pot.locator("#open-temperature").click()
    pot.get_by_role("textbox", name="Bath temperature, °C").fill("hot")
    pot.get_by_role("button", name="Record it").click()
    expect(pot.locator("#temperature-wrong")).to_contain_text("hot")
    pot.get_by_role("textbox", name="Bath temperature, °C").fill("190 F")
    pot.get_by_role("button", name="Record it").click()
    expect(pot.locator("#said")).to_contain_text("87.8 °C")  # by hand: (190 - 32) × 5 / 9 = 87.78


@pytest.mark.browser
def test_targets_at_the_pot_are_large_enough_for_wet_gloves(pot):
    go_to_the_yarn(pot)
    for element in pot.locator(".pot button:visible, .pot .button:visible").all():
        box = element.bounding_box()
        assert box["height"] >= 40, element.inner_text()
        assert box["width"] >= 40, element.inner_text()
    for element in pot.locator(".taps button:visible, .taps .button:visible, .glasses button:visible").all():
        assert element.bounding_box()["height"] >= 48, element.inner_text()


@pytest.mark.browser
def test_a_second_tap_of_the_same_glove_passes_no_step(pot):
    titles = pot.evaluate("JSON.parse(document.getElementById('pot-state').textContent).steps.map(step => step.title)")
    pot.locator("#next-step").dblclick()
    expect(pot.locator("#saved")).to_have_text("saved")
    expect(pot.locator("#step-title")).to_have_text(titles[1])
    pot.locator("#next-step").click()
    expect(pot.locator("#step-title")).to_have_text(titles[2])


@pytest.mark.browser
def test_an_impossible_ph_is_refused_on_the_spot_and_stays_in_its_field(pot):
    pot.locator("#more summary").click()
    pot.get_by_label("pH by strip or meter, cooled sample").fill("sour")
    pot.locator('[data-record="ph"] button').click()
    expect(pot.locator("#ph-wrong")).to_contain_text("“sour” is not a pH")
    expect(pot.get_by_label("pH by strip or meter, cooled sample")).to_have_value("sour")
    expect(pot.locator("#saved")).to_have_text("saved")
    pot.get_by_label("pH by strip or meter, cooled sample").fill("4,8")
    pot.locator('[data-record="ph"] button').click()
    expect(pot.locator("#said")).to_have_text("pH 4,8 kept")


@pytest.mark.browser
def test_the_chart_waits_for_the_heat_and_leaves_room_for_the_glasses(pot):
    expect(pot.locator("#pot-forecast")).to_contain_text("clear")
    expect(pot.locator("#pot-forecast svg")).to_have_count(0)
    go_to_the_yarn(pot)
    expect(pot.locator("#pot-forecast svg")).to_be_visible()
    chart, screen = pot.locator("#pot-forecast svg").bounding_box(), pot.viewport_size
    assert chart["height"] <= 0.5 * chart["width"]
    assert pot.locator("#ladder-words").bounding_box()["y"] < screen["height"]


@pytest.mark.browser
def test_without_script_a_temperature_can_still_be_written_down(browser, address):
    with browser.new_context(viewport={"width": 360, "height": 780}, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(f"{address}/demo/")
        page.get_by_role("link", name="two spares of sea-green 5").click()
        page.get_by_role("link", name="To the pot").click()
        page.wait_for_url("**/pot")  # its script is loaded then
        page.locator("#open-temperature").click()
        page.get_by_role("textbox", name="Bath temperature, °C").fill("61")
        page.get_by_role("button", name="Record it").click()
        page.locator("#more summary").click()
        expect(page.locator("#pot-log")).to_contain_text("bath at 61 °C")


@pytest.mark.browser
def test_what_the_studio_refuses_is_shown_and_kept_until_it_is_discarded(pot):
    go_to_the_yarn(pot)
    expect(pot.locator("#saved")).to_have_text("saved")

    def refuse(route):
        ids = [event["id"] for event in route.request.post_data_json["events"]]
        sentence = "the run is kept already: enter it on the run's page"
        results = [{"id": id_, "outcome": "refused", "sentence": sentence} for id_ in ids]
        route.fulfill(status=200, json={"results": results})

    pot.route("**/events", refuse)
    pot.get_by_role("button", name="½ in").click()
    expect(pot.locator("#parked")).to_contain_text("the run is kept already")
    expect(pot.get_by_role("button", name="½ in")).to_have_attribute("aria-pressed", "false")
    pot.unroute("**/events")
    pot.reload()
    expect(pot.locator("#parked")).to_contain_text("the run is kept already")
    pot.get_by_role("button", name="Discard it").click()
    expect(pot.locator("#parked")).to_be_hidden()


@pytest.mark.browser
def test_taps_left_unsent_are_sent_from_any_other_page(pot, address):
    go_to_the_yarn(pot)
    expect(pot.locator("#saved")).to_have_text("saved")
    run = pot.url.removesuffix("/pot")
    pot.route("**/events", lambda route: route.abort("internetdisconnected"))
    pot.get_by_role("button", name="¾").click()
    expect(pot.locator("#saved")).to_have_text("1 waiting to be sent")

    pot.unroute("**/events")
    with pot.expect_response("**/events") as sent:
        pot.goto(f"{address}/demo/lots")
    assert sent.value.ok
    pot.goto(run)
    expect(pot.get_by_text("75 % of the dye is in")).to_be_visible()


def press(page, name):
    page.get_by_role("button", name=name, exact=True).click()


def type_temperature(page, text):
    page.locator("#open-temperature").click()
    page.get_by_role("textbox", name="Bath temperature, °C").fill(text)
    press(page, "Record it")


@pytest.mark.browser
def test_a_temperature_beyond_a_pot_is_asked_about_out_of_reach_too_and_stays_in_its_field(pot, faults_of):
    go_to_the_yarn(pot)
    expect(pot.locator("#saved")).to_have_text("saved")
    pot.context.set_offline(True)
    type_temperature(pot, "300")
    expect(pot.locator("#question-text")).to_contain_text("beyond a pot")
    assert not faults_of(pot)
    for button in pot.locator("#question-dialog button").all():
        assert button.bounding_box()["height"] >= 48, button.inner_text()

    pot.locator("#close-question").click()
    expect(pot.get_by_role("textbox", name="Bath temperature, °C")).to_have_value("300")
    press(pot, "Record it")
    press(pot, "30\u202f°C")
    expect(pot.locator("#said")).to_contain_text("30\u202f°C")
    expect(pot.locator("#saved")).to_have_text("1 waiting to be sent")
    expect(pot.locator("#forecast-as-of")).to_contain_text(re.compile(r"Forecast as of \d\d:\d\d"))

    pot.context.set_offline(False)
    expect(pot.locator("#saved")).to_have_text("saved", timeout=20000)
    expect(pot.locator("#forecast-as-of")).to_be_hidden()
    pot.locator("#more summary").click()
    expect(pot.locator("#pot-log")).to_contain_text("bath at 30 °C")


ASKED = [("temperature", value) for value in (300, 180, 120, 106, -5, -200)] + [
    ("ph", value) for value in (45, 12, 1, 300)
]


@pytest.mark.browser
def test_the_page_asks_what_the_studio_asks(pot):
    script = """async ([kind, number, sure]) =>
        (await import('/static/js/questions.js')).questionAbout(kind, number, sure)"""
    sure = pot.evaluate("JSON.parse(document.getElementById('pot-state').textContent).sure")
    limits = SureLimits(tuple(sure["temperature_c"]), tuple(sure["ph"]), tuple(sure["rinses"]))
    for kind, number in ASKED:
        here, there = pot.evaluate(script, [kind, number, sure]), ask(kind, float(number), limits)
        assert here["text"] == there.text
        assert [(way["words"], way["kind"], way["value"], way["isSure"]) for way in here["ways"]] == [
            (way.words, way.kind, way.value, way.is_sure) for way in there.ways
        ]


@pytest.mark.browser
def test_waters_are_counted_with_wet_gloves_and_end_the_rinsing(pot):
    go_to_the_yarn(pot)
    for _ in range(20):
        if pot.locator("#waters").is_visible():
            break
        title = pot.locator("#step-title").inner_text()
        pot.locator("#next-step").click()
        expect(pot.locator("#step-title")).not_to_have_text(title)
    for button in pot.locator("#waters-taps button").all():
        assert button.bounding_box()["height"] >= 48
    expect(pot.locator("#waters-words")).to_contain_text("Rinse 1")
    press(pot, "Still colours")
    expect(pot.locator("#waters-words")).to_contain_text("Rinse 2")
    press(pot, "Clear")
    expect(pot.locator("#waters-words")).to_have_text("Clear in rinse 2.")
    expect(pot.locator("#step-title")).not_to_contain_text("Rinse")
    expect(pot.locator("#saved")).to_have_text("saved")
    pot.reload()
    expect(pot.locator("#waters-words")).to_have_text("Clear in rinse 2.")


@pytest.mark.browser
def test_a_bath_nearly_clear_as_the_heat_goes_on_is_a_question_and_one_tap_answers_it(pot, faults_of):
    go_to_the_yarn(pot)
    pot.get_by_role("button", name="⅞").click()
    doubt = pot.locator(".doubt").first
    expect(doubt).to_contain_text("Clarity at")
    assert not faults_of(pot)
    for button in doubt.get_by_role("button").all():
        assert button.bounding_box()["height"] >= 48
    doubt.get_by_role("button", name="A slip: take it back").click()
    expect(pot.locator("#said")).to_contain_text("Taken back")
    expect(pot.get_by_role("button", name="⅞")).to_have_attribute("aria-pressed", "false")
    expect(pot.locator("#saved")).to_have_text("saved")
    expect(pot.locator(".doubt")).to_have_count(0)


@pytest.mark.browser
def test_what_the_studio_refused_may_be_kept_as_a_note(pot):
    go_to_the_yarn(pot)
    expect(pot.locator("#saved")).to_have_text("saved")

    def refuse(route):
        results = [
            {"id": event["id"], "outcome": "refused", "sentence": "too late"}
            for event in route.request.post_data_json["events"]
        ]
        route.fulfill(status=200, json={"results": results})

    pot.route("**/events", refuse)
    pot.get_by_role("button", name="½ in").click()
    expect(pot.locator("#parked")).to_contain_text("too late")
    pot.unroute("**/events")
    press(pot, "Keep it as a note")
    expect(pot.locator("#parked")).to_be_hidden()
    expect(pot.locator("#saved")).to_have_text("saved")
    pot.locator("#more summary").click()
    expect(pot.locator("#pot-log")).to_contain_text("exhaustion 0.5 (too late)")
