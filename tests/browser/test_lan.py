"""A phone on the local network: plain HTTP by another name than localhost, which browsers call an insecure context."""

import pytest
from live import CHROMIUM_FLAGS, chromium_path, live_server
from playwright.sync_api import expect


@pytest.fixture
def phone(browser, tmp_path):
    """A phone's page and the studio's address on the network; a name that is not local leads to this machine."""
    mapped = browser.browser_type.launch(
        executable_path=chromium_path(), args=[*CHROMIUM_FLAGS, "--host-resolver-rules=MAP studio.test 127.0.0.1"]
    )
    with live_server(tmp_path, hosts=None) as address:
        page = mapped.new_page(viewport={"width": 360, "height": 780})
        yield page, address.replace("127.0.0.1", "studio.test")
        mapped.close()


@pytest.mark.browser
def test_taps_are_recorded_without_a_secure_context(phone):
    page, address = phone
    page.goto(f"{address}/demo/")
    page.get_by_role("link", name="To the pot").first.click()
    page.wait_for_url("**/pot")  # its script is loaded then
    assert not page.evaluate("isSecureContext")
    assert page.evaluate("crypto.randomUUID === undefined")
    page.get_by_role("button", name="⅞").click()
    expect(page.locator("#said")).to_contain_text("⅞")
    expect(page.locator("#saved")).to_have_text("saved")
    page.reload()
    expect(page.get_by_role("button", name="⅞")).to_have_attribute("aria-pressed", "true")
