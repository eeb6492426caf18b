"""The colour pages in Chromium: the slider shows its consequence, other light is looked at, nothing spills over."""

import re

import pytest

TARGET = "/demo/colours/new?target=45+-20+-5"
MIX = f"{TARGET}&depth.Lagoon=0.3&depth.Moss=0.2"
PAGES = (
    "/demo/colours",
    "/demo/colours/new",
    TARGET,
    f"{TARGET}&limits=set&max_dyes=9",
    f"{MIX}&snip=60+-20+-5",
    "/demo/colours/overdye",
    "/demo/colours/overdye?have=45+-20+-5&target=60+30+20",
    "/demo/colours/blend?part.1=70+-5+20&share.1=2&part.2=40+10+-30&share.2=1",
    "/demo/shelf/swatches",
)

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("path", PAGES)
def test_pages_fit_their_width_and_axe_finds_nothing_serious(page, address, faults_of, path):
    page.goto(address + path)
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert faults_of(page) == []


def test_a_slider_moves_the_foretold_colour_and_the_grams(page, address):
    page.goto(f"{address}/demo/colours/new?target=45+-20+-5")
    foretold = page.locator("[data-under=D65] > div").nth(1)
    before = foretold.evaluate("node => getComputedStyle(node).backgroundColor")
    slider = page.locator("[data-slider]").first
    slider.get_by_role("slider").focus()
    with page.expect_response(re.compile("/colours/mixture")):
        page.keyboard.press("End")

    page.wait_for_function(
        "before => getComputedStyle(document.querySelectorAll('[data-under=D65] > div')[1]).backgroundColor !== before",
        arg=before,
    )
    top = slider.locator("input[type=hidden]").input_value()
    number = slider.locator("input[inputmode]").input_value()
    assert float(number) == pytest.approx(float(top))
    assert f"{number.rstrip('0').rstrip('.')}" in page.locator("[data-part=answer] a").get_attribute("href")


def test_the_pair_is_looked_at_under_a_lamp(page, address):
    page.goto(f"{address}/demo/colours/new?target=45+-20+-5")
    assert page.locator("[data-under=D65]").is_visible()
    page.get_by_role("radio", name="Lamp").check()
    assert page.locator("[data-under=A]").is_visible()
    assert not page.locator("[data-under=D65]").is_visible()


def test_a_recipe_slip_puts_its_dyes_in_hand(page, address):
    page.goto(f"{address}/demo/colours/new?target=45+-20+-5")
    slip = page.locator(".recipes a").nth(1)
    dyes = slip.locator(".slip-dyes").inner_text()
    slip.click()
    page.wait_for_load_state()
    assert [name.inner_text() for name in page.locator(".slider-name").all()] == [
        re.sub(r" [\d.]+\s%$", "", part) for part in dyes.split(", ")
    ]
    assert page.locator(".recipes a[aria-current=true] .slip-dyes").inner_text() == dyes


def test_a_colour_is_kept_with_the_depths_as_moved(page, address):
    page.goto(f"{address}/demo/colours/new?target=45+-20+-5")
    page.locator("[data-slider] input[inputmode]").first.fill("0.4")
    page.get_by_label("Name of the colour").fill("Evening slack water")
    page.get_by_role("button", name="Keep the colour").click()
    page.wait_for_url(re.compile(r"/demo/colours/\d+\?"))
    assert page.get_by_role("heading", level=1).inner_text() == "Evening slack water"
    assert page.locator("[data-slider] input[inputmode]").first.input_value() == "0.4"


def test_enter_in_a_depth_works_out_the_mix_and_keeps_nothing(page, address):
    page.goto(address + MIX)
    depth = page.get_by_role("textbox", name="Lagoon", exact=True)
    depth.fill("0.9")
    depth.press("Enter")
    page.wait_for_url(re.compile(r"depth\.Lagoon=0\.9"))
    assert "/demo/colours/new" in page.url
    assert page.locator(".wrong").count() == 0


def test_limits_are_set_in_the_fold_and_hold_for_the_slips(page, address):
    page.goto(address + TARGET)
    page.get_by_text("What the recipe must keep to").click()
    page.get_by_label("Dyes in a recipe, at most").select_option("2")
    page.get_by_role("group", name="Leave out").get_by_label("Moss").check()
    page.get_by_role("button", name="Find recipes within these").click()
    page.wait_for_url(re.compile("limits=set"))
    for dyes in page.locator(".recipes .slip-dyes").all_inner_texts():
        assert "Moss" not in dyes
        assert dyes.count("%") <= 2
    assert "without Moss" in page.locator("#limits summary").inner_text()


def test_a_snip_moves_the_recipe_and_becomes_a_swatch(page, address):
    page.goto(address + MIX)
    page.get_by_text("A dried snip checks the recipe").click()
    page.get_by_label("What did it come out as?").fill("60 -20 -5")
    page.get_by_role("button", name="See what it says").click()
    page.wait_for_url(re.compile("snip=60"))
    assert page.get_by_text("The snip came out").is_visible()
    page.get_by_role("button", name=re.compile("Take the moved|Go on with")).click()
    page.wait_for_url(re.compile(r"/demo/colours/new\?(?!.*snip)"))
    saved = page.request.get(f"{address}/demo/shelf/swatches.csv").text()
    assert "Lagoon=0.3+Moss=0.2" in saved


def test_a_measured_file_becomes_the_target(page, address):
    page.goto(f"{address}/demo/colours/new")
    columns = ["name", *(f"R{nm}" for nm in range(400, 701, 10))]
    text = "\n".join((",".join(columns), ",".join(["leaf", *["0.3"] * 31])))
    page.get_by_label("Its file").set_input_files({"name": "leaf.csv", "mimeType": "text/csv", "buffer": text.encode()})
    page.get_by_role("button", name="Take it as the target").click()
    page.wait_for_url(re.compile("target=curve"))
    assert page.get_by_text("a measured colour").is_visible()
    assert re.search(r"Lamp \d", page.locator(".lights").inner_text())


def test_a_slider_where_nothing_can_be_weighed_says_so(page, address):
    page.goto(address + MIX)
    with page.expect_response(re.compile("/colours/mixture")):
        page.get_by_role("textbox", name="Lagoon", exact=True).fill("0.0003")
    page.get_by_text("too little to measure well").wait_for()


def test_on_a_phone_the_pair_goes_along_above_the_sliders(page, address):
    page.goto(address + MIX)
    strip = page.locator("[data-part=strip]")
    if page.viewport_size["width"] > 1000:
        assert not strip.is_visible()
        return
    before = strip.inner_text()
    with page.expect_response(re.compile("/colours/mixture")):
        page.get_by_role("textbox", name="Moss", exact=True).fill("0.9")
    page.wait_for_function("b => document.querySelector('[data-part=strip]').innerText !== b", arg=before)
    page.get_by_role("textbox", name="Moss", exact=True).scroll_into_view_if_needed()
    assert strip.bounding_box()["y"] >= 0
