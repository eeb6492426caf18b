"""Chromium and a served application for the tests of this folder."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from live import CHROMIUM_FLAGS, chromium_path, live_server
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = chromium_path()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM_FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    with live_server(tmp_path) as address:
        yield address


@pytest.fixture(params=[360, 1280], ids=["phone", "desk"])
def page(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Page]:  # noqa: ARG001 - outlives it
    """A page as wide as a phone and as a desk; it fails when a script fails, not when the network is taken away."""
    context = browser.new_context(viewport={"width": request.param, "height": 900}, bypass_csp=False)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda message: faults.append(message.text) if is_fault(message) else None)
    yield page
    context.close()
    assert not faults, faults


def is_fault(message: ConsoleMessage) -> bool:
    """Tell a fault from what tests bring about: a network taken away, a form refused with its sentence (422)."""
    meant = ("ERR_INTERNET_DISCONNECTED", "status of 422")
    return message.type == "error" and not any(words in message.text for words in meant)


def serious_faults(page: Page) -> list[str]:
    """Return what axe finds serious or critical on a page."""
    page.evaluate(AXE)
    result = page.evaluate("axe.run({resultTypes: ['violations']})")
    return [
        f"{violation['id']}: {violation['nodes'][0]['html'][:160]}"
        for violation in result["violations"]
        if violation["impact"] in {"serious", "critical"}
    ]


@pytest.fixture
def faults_of() -> Callable[[Page], list[str]]:
    """What axe finds serious or critical on a page; test modules cannot import this file."""
    return serious_faults
