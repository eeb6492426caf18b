"""The page on water in a real browser."""

import pytest

pytestmark = pytest.mark.browser


def test_an_answer_comes_without_leaving_the_page(page, address, faults_of):
    page.goto(f"{address}/demo/water")
    page.fill("#liquor_l", "6 L")
    page.fill("#alkalinity_mg_l", "100 mg/L")
    page.fill("#amount_1", "60 mL")
    page.click("text=Work it out")

    page.wait_for_selector(".answer .figure")
    assert "4." in page.inner_text(".answer .figure")
    assert "liquor_l=6+L" in page.url or "liquor_l=6%20L" in page.url
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert faults_of(page) == []
