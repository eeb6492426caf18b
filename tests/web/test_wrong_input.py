"""Every usual kind of wrong input gets a sentence with thing, value and limit, and loses nothing."""

import re
import struct
import zlib
from html import unescape

import pytest

FOUR = {"yarn.dry": "250 g", "dye.1.name": "Reed", "dye.1.depth": "0.8 %", "pot.1.volume": "12 L"}
NO_BASE = "dye,depth_percent,base,L,a,b,illuminant,observer\nReed,1,Merino,52,-25,-15,D65,10\n"


def chunk(kind, content):
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def png_that_claims(width, height):
    """A picture file of a few bytes whose header promises the given size."""
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


def words(page):
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.text)).split())


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        pytest.param("yarn.dry", "250 zorks", ("zorks", "unit"), id="unknown unit"),
        pytest.param("yarn.dry", "0 g", ("dry weight", "0 g", "above 0 g"), id="no yarn"),
        pytest.param("pot.1.volume", "3 L", ("pot", "3 L", "too small"), id="pot too small"),
        pytest.param("dye.1.depth", "-1 %", ("-1 %", "below 0 %"), id="negative depth"),
    ],
)
def test_a_plan_that_cannot_be_keeps_every_field(own, field, typed, said):
    sent = FOUR | {field: typed}
    page = own.post("/plan", data=sent)
    assert page.status_code == 422
    for part in said:
        assert part in words(page)
    for name, text in sent.items():
        assert re.search(rf'name="{re.escape(name)}" value="{re.escape(text)}"', unescape(page.text)), name
    assert f'id="{field}"' in re.search(r'<[^>]*aria-invalid="true"', page.text)[0], "the sentence stands at its field"
    assert not re.search(r"/runs/[0-9a-f-]{36}", own.get("/runs").text), "nothing was planned"


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        pytest.param("notes.txt", b"run 12: blue 0.8 %", ("notes.txt", "not a picture"), id="text file"),
        pytest.param(
            "big.png", png_that_claims(10_000, 10_000), ("big.png", "100 megapixels", "under 100"), id="100 megapixels"
        ),
    ],
)
@pytest.mark.parametrize("where", ["judge", "run", "pot"])
def test_a_photo_that_cannot_be_leaves_the_run_as_it_was(fresh, name, content, said, where):
    run = re.search(r"/demo/runs/[0-9a-f-]{36}", fresh.get("/demo/runs").text)[0]
    photos = len(set(re.findall(r"/photos/[0-9a-f-]{36}", fresh.get(run).text)))
    action = {"judge": "/demo/judge", "run": f"{run}/photo", "pot": f"{run}/events/photo"}[where]
    page = fresh.post(action, files={"photo": (name, content, "image/jpeg")}, data={"id": "5" * 32})
    assert page.status_code == 422
    for part in said:
        assert part in words(page)
    assert len(set(re.findall(r"/photos/[0-9a-f-]{36}", fresh.get(run).text))) == photos


def test_swatches_without_an_undyed_base_stay_and_the_way_out_is_said(own):
    own.post("/shelf/swatches", data={"table": NO_BASE})
    assert "Reed,1,Merino" in own.get("/shelf/swatches.csv").text.replace("1.0", "1"), "what was brought is kept"
    page = own.get("/colours/new", params={"target": "45 -20 -5"})
    assert page.status_code == 422
    assert "undyed" in words(page)
    assert "Merino" in words(page)
    assert "45 -20 -5" in page.text
