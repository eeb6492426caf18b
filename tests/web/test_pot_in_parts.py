"""A dye in parts at the pot: the later parts are steps of the run, and no acid."""

import re
from html import unescape

FIELDS = {
    "yarn.dry": "240 g",
    "dye.1.name": "Reed",
    "dye.1.depth": "1.5 %",
    "dye.1.stock": "1 %",
    "dye.1.parts": "3",
    "assistant.1.kind": "white vinegar 5 %",
    "assistant.1.amount": "pH 5",
    "pot.1.volume": "12 L",
}


def words(page):
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.text)).split())


def test_a_run_in_parts_is_kept_shown_printed_and_foretold(own):
    planned = own.post("/plan", data=FIELDS)
    form = {key: unescape(re.search(rf'name="{key}" value="([^"]*)"', planned.text)[1]) for key in ("card", "run_id")}
    run = own.post("/plan/keep", data=form)
    url = f"/runs/{form['run_id']}"

    assert run.status_code == 200
    assert own.get(f"{url}/sheet.pdf").content.startswith(b"%PDF")
    assert "Level" in words(own.get(f"{url}/forecast"))
    pot = own.get(f"{url}/pot")
    assert pot.status_code == 200
    assert "dye-1" in pot.text
    # By hand: 1.5 % of 240 g is 3.6 g, 360 mL of a 1 % stock, 120 mL a third.
    assert "the second third of Reed (120\u202fmL)" in pot.text.replace("\\u202f", "\u202f")
