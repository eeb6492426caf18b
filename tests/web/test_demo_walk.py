"""The demo walked as far as its links go, and the one idea of its look: the only colour on a page is that of dye."""

import re
from collections import Counter
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin, urlsplit

import pytest
from ready import place_demo
from starlette.testclient import TestClient

from dyewright.web.app import create_app
from dyewright.web.render import STATIC

OF_ONE_SHAPE = 3
STYLES = sorted(STATIC.glob("*.css"))
COLOUR = re.compile(r"#([0-9a-fA-F]{3,8})\b|\b((?:rgb|hsl|hwb|lab|lch|oklab|oklch|color)a?\([^)]*\))")
NAMED = re.compile(r"(?<![-\w])(?:color|background|border|fill|stroke|outline|shadow)[-\w]*:[^;}]*", re.IGNORECASE)
# CSS Color 4, section 6.1, less the greys: names that a rule might hold by mistake.
HUES = re.compile(
    r"(?<![-\w#])(red|green|blue|yellow|orange|purple|pink|brown|teal|navy|maroon|olive|lime|aqua|cyan|magenta|fuchsia"
    r"|gold|coral|salmon|tomato|crimson|indigo|violet|beige|ivory|khaki|tan|rebeccapurple|\w+(?:red|green|blue))(?![-\w])"
)


class Links(HTMLParser):
    """What a page links to and loads, and where its forms lead."""

    def __init__(self, html):
        super().__init__()
        self.links, self.loads, self.actions = set(), set(), set()
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if tag == "a" and values.get("href"):
            self.links.add(values["href"])
        for name in ("src", "href") if tag in {"img", "script", "link", "image", "use", "object"} else ():
            if values.get(name):
                self.loads.add(values[name])
        if tag == "form":
            self.actions.add(values.get("action") or "")
        self.actions |= {values[name] for name in ("hx-get", "hx-post", "formaction") if values.get(name)}


def shape(path):
    """Return what a link is like: the same page for another run, lot or recipe has the same shape."""
    parts = urlsplit(path)
    names = sorted({re.sub(r"\..*", "", pair.split("=")[0]) for pair in parts.query.split("&")})
    return re.sub(r"[0-9a-f-]{36}|\d+", "*", parts.path), tuple(names)


@pytest.fixture(scope="module")
def walked(tmp_path_factory):
    """Every page that can be reached from the demo's first, with what it answered.

    Of links that differ only in what they ask for, or in the run that they draw or print, a few are followed: each
    takes as long as the planning or forecast behind it.
    """
    folder = tmp_path_factory.mktemp("walk")
    pages, waiting, followed = {}, ["/demo/"], Counter()
    with TestClient(create_app(str(folder / "own.sqlite"), place_demo(folder)), base_url="http://127.0.0.1") as client:
        while waiting:
            path = waiting.pop(0)
            if path in pages or followed[shape(path)] >= OF_ONE_SHAPE:
                continue
            followed[shape(path)] += 1
            pages[path] = answer = client.get(path, follow_redirects=False)
            if answer.status_code in {302, 303, 307}:
                waiting.append(urljoin(path, answer.headers["location"]))
            if answer.headers.get("content-type", "").startswith("text/html"):
                page = Links(answer.text)
                targets = {urldefrag(urljoin(path, link)).url for link in page.links | page.loads}
                waiting += sorted(target for target in targets if target.startswith(("/demo", "/static/")))
    return pages


def test_no_link_of_the_demo_is_a_dead_end_and_none_leaves_it(walked):
    assert len(walked) > 60, "the walk reached the runs, lots, colours and the shelf"
    dead = {path: answer.status_code for path, answer in walked.items() if answer.status_code >= 400}
    assert not dead
    own_studio = {"/", "/welcome"}
    for path, answer in walked.items():
        if not answer.headers.get("content-type", "").startswith("text/html"):
            continue
        page = Links(answer.text)
        for link in page.links | page.loads | page.actions:
            target = urlsplit(urljoin(f"http://127.0.0.1{path}", link))
            if target.scheme in {"data", "mailto"}:
                continue
            assert target.netloc == "127.0.0.1", f"{path} leads out of the tool, to {link}"
            is_inside = target.path == "/demo" or target.path.startswith(("/demo/", "/static/"))
            assert is_inside or (target.path in own_studio and link in page.links), f"{path} leaves the demo for {link}"


def test_every_page_of_the_demo_says_that_it_is_invented_and_has_a_way_back(walked):
    for path, answer in walked.items():
        if answer.headers.get("content-type", "").startswith("text/html") and answer.status_code == 200:
            assert "invented data" in answer.text, path
            assert any(link.startswith("/demo/") for link in Links(answer.text).links), path


def is_neutral(hexadecimal):
    digits = hexadecimal if len(hexadecimal) > 4 else "".join(2 * digit for digit in hexadecimal)
    return digits[0:2].lower() == digits[2:4].lower() == digits[4:6].lower()


@pytest.mark.parametrize("sheet", STYLES, ids=lambda sheet: sheet.name)
def test_every_colour_of_the_style_sheets_is_neutral(sheet):
    text = re.sub(r"/\*.*?\*/|url\([^)]*\)", "", sheet.read_text(encoding="utf-8"), flags=re.DOTALL)
    for in_hex, function in COLOUR.findall(text):
        if in_hex:
            assert is_neutral(in_hex), f"#{in_hex}"
        else:
            parts = re.findall(r"[\d.]+%?", function)
            assert function.startswith("rgb"), function
            assert len(set(parts[:3])) == 1, function
    for declaration in NAMED.findall(text):
        assert not HUES.search(declaration), declaration


def test_a_hue_would_be_seen():
    assert not is_neutral("a0b0c0")
    assert not is_neutral("f00")
    assert is_neutral("767676")
    assert HUES.search("color: darkred")
    assert not HUES.search("color: var(--on-field)")


def test_pages_carry_colour_only_in_style_attributes_and_drawings(walked):
    for path, answer in walked.items():
        if answer.headers.get("content-type", "").startswith("text/html"):
            outside = re.sub(r"<svg.*?</svg>", "", answer.text, flags=re.DOTALL)
            assert "<style" not in outside, path
            assert not re.search(r"<[^>]+\s(?:bgcolor|color)=", outside), path
