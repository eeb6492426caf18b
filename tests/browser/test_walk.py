"""The whole job once through, in a browser: from a colour that is wanted to a lot that is kept.

Set DYEWRIGHT_SCREENSHOTS to a folder to keep the pictures that the docs show.
"""

import os
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from scenes import Scene, jpeg, render

SCREENSHOTS = os.environ.get("DYEWRIGHT_SCREENSHOTS")
SKEINS = [((120 + 260 * place, 380, 180, 440), lab) for place, lab in enumerate([(47, -21, -9)] * 3 + [(50, -17, -7)])]


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """Four skeins on white board, the last one lighter than the rest."""
    file = tmp_path / "skeins.jpg"
    file.write_bytes(jpeg(render(Scene(skeins=SKEINS, strand_px=9))))
    return file


def look(page: Page, name: str, faults_of) -> None:
    """Hold a page to what every page must be: no sideways scrolling, nothing serious for axe."""
    page.wait_for_load_state()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{name} scrolls sideways"
    assert not faults_of(page), name
    if SCREENSHOTS:
        width = page.viewport_size["width"]
        page.screenshot(path=Path(SCREENSHOTS) / f"{name}-{'phone' if width < 500 else 'desk'}.png", full_page=False)


def choose_and_match(page: Page, address: str, faults_of) -> None:
    page.goto(f"{address}/demo/colours/new")
    page.get_by_label("The colour", exact=True).fill("47 -21 -9")
    page.get_by_label("Dry yarn").fill("200 g")
    page.get_by_role("button", name="Find recipes").click()
    expect(page.get_by_text("Wanted", exact=True)).to_be_visible()
    look(page, "colours", faults_of)
    page.get_by_role("link", name="Plan a pot").click()


def plan_and_keep(page: Page, faults_of) -> tuple[str, str]:
    """Return the address and the number of the run."""
    expect(page.get_by_role("heading", name="Plan a pot")).to_be_visible()
    if page.get_by_role("button", name="Make the sheet").is_visible():
        page.get_by_role("button", name="Make the sheet").click()
    expect(page.get_by_text(re.compile("Expect (it )?clear")).first).to_be_visible()
    look(page, "plan", faults_of)
    page.get_by_role("button", name="Keep this plan").click()
    expect(page.get_by_role("link", name="To the pot")).to_be_visible()
    return page.url, re.search(r"run (\d+)", page.locator(".head").inner_text())[1]


def dye(page: Page, faults_of) -> None:
    page.get_by_role("link", name="To the pot").click()
    page.wait_for_url("**/pot")  # its script is loaded then
    entered = False
    for _ in range(40):
        if not page.locator("#next-step").is_visible():
            break
        title = page.locator("#step-title").inner_text()
        is_entering = page.locator("#next-step").inner_text() == "Yarn in, heat on"
        page.locator("#next-step").click()
        expect(page.locator("#step-title")).not_to_have_text(title)
        if is_entering:
            entered = True
            observe(page)
            look(page, "pot-heat-on", faults_of)
    assert entered, "no step of the sheet put the yarn in"
    expect(page.locator("#step-title")).to_have_text("All steps are done.")
    expect(page.locator("#saved")).to_have_text("saved")


def observe(page: Page) -> None:
    page.get_by_role("button", name="⅞").click()
    expect(page.locator('.glasses [aria-pressed="true"]')).to_have_count(1)
    page.locator("#open-temperature").click()
    page.get_by_role("button", name="Record it").click()
    expect(page.locator("#saved")).to_have_text("saved")


@pytest.mark.browser
def test_from_a_wanted_colour_to_a_kept_lot(page, address, picture, faults_of):
    page.goto(f"{address}/demo/")
    look(page, "today", faults_of)
    choose_and_match(page, address, faults_of)
    run, number = plan_and_keep(page, faults_of)
    dye(page, faults_of)

    # Judge
    page.goto(f"{run}/judge")
    page.get_by_label("Photo of the skeins").set_input_files(picture)
    page.get_by_role("button", name="Look at the photo").click()
    look(page, "mark", faults_of)
    page.get_by_role("button", name="Judge", exact=True).click()
    expect(page.get_by_role("link", name="Keep the lot")).to_be_visible()
    look(page, "verdict", faults_of)

    # Keep
    page.get_by_role("link", name="Keep the lot").click()
    page.get_by_role("button", name="Keep the lot").click()
    expect(page.get_by_role("link", name="Dye it again")).to_be_visible()
    look(page, "run", faults_of)
    page.goto(f"{address}/demo/lots")
    expect(page.locator(".slip").first).to_contain_text(f"lot {number},")
    look(page, "lots", faults_of)


@pytest.mark.browser
def test_the_demo_shows_a_pot_that_is_on(page, address, faults_of):
    page.goto(f"{address}/demo/")
    page.get_by_role("link", name="To the pot").first.click()
    page.wait_for_url("**/pot")  # its script is loaded then
    expect(page.locator("#clock-line")).to_contain_text(re.compile("by the clock|since"))  # the demo ages meanwhile
    expect(page.locator("#pot-forecast svg")).to_contain_text("now, ")
    look(page, "pot", faults_of)


SWATCHES = [("undyed", "88 0 10"), ("Teal 1 %", "46 -26 -13"), ("Ochre 1 %", "68 12 55")]  # invented, typed as measured


@pytest.mark.browser
def test_three_swatches_in_a_studio_of_ones_own_give_a_recipe_and_a_sheet(page, address, faults_of):
    page.goto(address)
    page.get_by_label("What is your studio called?").fill("Hill shed")
    page.get_by_role("button", name="Begin my own").click()
    look(page, "own-today", faults_of)

    page.get_by_role("link", name="Shelf").click()
    page.get_by_role("link", name="Add swatches").click()
    for count, (recipe, colour) in enumerate(SWATCHES, start=1):
        page.get_by_label("Dye and depth").fill(recipe)
        page.get_by_label("On which yarn").fill("Merino")
        page.get_by_label("Its colour").fill(colour)
        page.get_by_role("button", name="Add the swatch").click()
        expect(page.get_by_role("heading", name=f"On record: {count}")).to_be_visible()
    look(page, "own-swatches", faults_of)

    page.goto(f"{address}/colours/new")
    page.get_by_label("The colour", exact=True).fill("52 -22 18")
    page.get_by_label("Dry yarn").fill("100 g")
    page.get_by_role("button", name="Find recipes").click()
    expect(page.locator(".recipes")).to_contain_text("Teal")
    expect(page.locator(".recipes")).to_contain_text("Ochre")
    look(page, "own-colours", faults_of)
    page.get_by_role("link", name="Plan a pot").click()
    expect(page.get_by_role("button", name="Keep this plan")).to_be_visible()
    look(page, "own-plan", faults_of)
    page.get_by_role("button", name="Keep this plan").click()
    expect(page.get_by_role("link", name="To the pot")).to_be_visible()
