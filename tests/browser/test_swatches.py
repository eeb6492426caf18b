"""Swatches in a real browser: photographed leftovers lead to a first recipe, and every page is what it must be."""

import pytest
from playwright.sync_api import expect
from scenes import Scene, jpeg, render

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def leftovers(tmp_path_factory):
    """An undyed skein and two dyed ones on white board, without a chart."""
    labs = [(87, 0, 11), (52, -25, -15), (48, 42, 18)]
    skeins = [((140 + 260 * place, 330, 180, 480), lab) for place, lab in enumerate(labs)]
    path = tmp_path_factory.mktemp("photos") / "leftovers.jpg"
    path.write_bytes(jpeg(render(Scene(width=1000, skeins=skeins, strand_px=9, noise=0.006))))
    return path


@pytest.fixture
def looked_at(page, faults_of):
    def look():
        page.wait_for_load_state()
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), page.url
        assert not faults_of(page), page.url

    return look


def test_three_photographed_leftovers_lead_to_a_first_recipe(page, address, leftovers, looked_at):
    page.goto(f"{address}/welcome")
    page.locator("input[name=name]").fill("Test shed")
    page.get_by_role("button", name="Begin").click()
    page.goto(f"{address}/shelf")
    page.get_by_role("link", name="Add swatches").click()
    looked_at()
    page.set_input_files("#photo", leftovers)
    page.get_by_role("button", name="Look at the photo").click()
    expect(page.locator("figure.marker svg polygon.shape")).to_have_count(3)  # the undyed one is found too
    looked_at()
    page.get_by_role("button", name="Read the colours").click()
    page.get_by_label("On which yarn").fill("Merino")
    for number, recipe in enumerate(("undyed", "Teal 0.5 %", "Rowan 1 %"), start=1):
        page.locator(f"#recipe_{number}").fill(recipe)
    looked_at()
    page.get_by_role("button", name="Keep as swatches").click()
    expect(page.get_by_text("3 swatches kept.")).to_be_visible()
    expect(page.get_by_text("none can be held against another yet")).to_be_visible()  # loaded behind the page
    looked_at()
    page.get_by_role("link", name="Find a recipe").click()
    page.get_by_label("The colour", exact=True).fill("55 -18 -8")
    page.get_by_role("button", name="Find recipes").click()
    expect(page.get_by_text("Wanted", exact=True)).to_be_visible()
    expect(page.get_by_role("heading", name="Recipes from your shelf")).to_be_visible()


def test_a_ladder_leads_to_a_swatch_and_it_is_held_against_the_others(page, address, looked_at):
    page.goto(f"{address}/demo/shelf/swatches")
    expect(page.get_by_text("One swatch disagrees with the others.")).to_be_visible(timeout=30_000)
    looked_at()
    page.get_by_role("link", name="Bracken 2 %").click()
    expect(page.get_by_text("weighing?")).to_be_visible(timeout=30_000)
    looked_at()


def test_a_dyes_page_shows_its_swatches_and_its_tub(page, address, looked_at):
    page.goto(f"{address}/demo/shelf")
    page.get_by_role("link", name="Lagoon", exact=True).click()
    expect(page.get_by_label("Lot of the tub in use")).to_have_value("26-A")
    expect(page.get_by_text("times as strong as tub 19-C")).to_be_visible()
    looked_at()
