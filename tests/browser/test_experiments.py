"""Experiments in Chromium: planned and read by hand on a phone and a desk."""

import pytest

pytestmark = pytest.mark.browser

PAGES = ("/demo/experiments", "/demo/experiments/new", "/demo/experiments/1", "/demo/experiments/1/colours")


def fits(page) -> bool:
    return page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


def test_pages_fit_their_width_and_axe_finds_nothing_serious(page, address, faults_of):
    for path in PAGES:
        page.goto(address + path)
        assert fits(page), path
        assert faults_of(page) == [], path


def test_one_thing_is_varied_foretold_kept_and_read(page, address, faults_of):
    page.goto(f"{address}/demo/experiments/new")
    page.get_by_role("textbox", name="Dye", exact=True).first.fill("Marigold")
    page.get_by_label("Yarn").select_option(label="Fellside wool")
    page.get_by_role("button", name="pH").click()
    assert page.get_by_text("Can it show a difference?").is_visible()
    assert page.get_by_role("textbox", name="Dye", exact=True).first.input_value() == "Marigold"
    assert fits(page)
    assert faults_of(page) == []

    page.get_by_label("Name").fill("Marigold, once more")
    page.get_by_role("button", name="Keep this experiment").click()
    assert page.get_by_role("heading", name="Marigold, once more").is_visible()
    page.get_by_label("Clear, min").first.fill("48")
    page.get_by_label("Bath at the end").nth(3).select_option(label="½ in")
    page.get_by_role("button", name="Keep what was seen").click()
    assert page.get_by_text("half of the dye stayed in the bath").is_visible()
    assert fits(page)
    assert faults_of(page) == []
