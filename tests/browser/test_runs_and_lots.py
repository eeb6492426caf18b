"""Runs and lots in a real browser, on a phone and on a desk."""

import pytest

pytestmark = pytest.mark.browser


def test_from_the_lot_book_to_a_repeat(page, address, faults_of):
    page.goto(f"{address}/demo/lots")
    page.get_by_label("Words").fill("telephone")
    page.get_by_role("button", name="Find").click()
    page.get_by_text("1 lot found").wait_for()
    page.get_by_role("link", name="Choir shawls, sea-green 4 of 5").click()
    page.get_by_role("heading", name="Choir shawls, sea-green 4 of 5").wait_for()
    assert faults_of(page) == []
    page.get_by_role("link", name="Dye it again").click()
    page.get_by_label("Dry yarn").fill("200 g")
    page.get_by_role("button", name="Plan it again").click()
    page.get_by_text("Planned, not yet begun.").wait_for()
    page.get_by_role("img").or_(page.locator("#forecast svg:visible")).first.wait_for()  # htmx brings the forecast


@pytest.mark.parametrize("path", ["runs", "lots", "lots?near=lab+45+-15+-5"])
def test_pages_are_accessible_and_fit(page, address, faults_of, path):
    page.goto(f"{address}/demo/{path}")
    assert faults_of(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_run_page_is_accessible_and_fits(page, address, faults_of):
    page.goto(f"{address}/demo/runs")
    page.get_by_role("link", name="Choir shawls, sea-green 5 of 5").click()
    page.get_by_text("Dyed. Judge the skeins").wait_for()
    assert faults_of(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
