"""The pot screen where it is used: a phone that sleeps, reloads and loses the network."""

import re

import pytest
from playwright.sync_api import expect


@pytest.fixture
def pot(page, address):
    """The pot screen of the demo's planned run, with the address it stands at."""
    page.goto(f"{address}/demo/")
    page.get_by_role("link", name="two spares of sea-green 5").click()
    page.get_by_role("link", name="To the pot").click()
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
def test_an_impossible_temperature_is_refused_on_the_spot(pot):
    go_to_the_yarn(pot)
    pot.locator("#open-temperature").click()
    pot.get_by_role("textbox", name="Bath temperature, °C").fill("880")
    pot.get_by_role("button", name="Record it").click()
    expect(pot.locator("#temperature-wrong")).to_contain_text("880")
    pot.get_by_role("textbox", name="Bath temperature, °C").fill("88")
    pot.get_by_role("button", name="Record it").click()
    expect(pot.locator("#said")).to_contain_text("88 °C")


@pytest.mark.browser
def test_targets_at_the_pot_are_large_enough_for_wet_gloves(pot):
    go_to_the_yarn(pot)
    for element in pot.locator(".pot button:visible, .pot .button:visible").all():
        box = element.bounding_box()
        assert box["height"] >= 40, element.inner_text()
        assert box["width"] >= 40, element.inner_text()
    for element in pot.locator(".taps button:visible, .taps .button:visible, .glasses button:visible").all():
        assert element.bounding_box()["height"] >= 48, element.inner_text()
