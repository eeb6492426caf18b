"""The picture for the shop, a snip's page and a base's wet samples, through their pages."""

import re
from io import BytesIO

import pytest
from PIL import Image
from scenes import Scene, jpeg, render

from dyewright.services.judging._chart import reference_of

PLACES = [(140, 330, 180, 480), (520, 330, 180, 480)]
CHART = reference_of(None, is_older_chart=False).xyz


@pytest.fixture
def verdict(own):
    """The client, and the address of a verdict on two skeins beside a chart."""
    skeins = list(zip(PLACES, [(45, -18, -12), (52, -14, -8)], strict=True))
    content = jpeg(render(Scene(width=1000, skeins=skeins, strand_px=9, noise=0.006, chart_xyz=CHART)))
    marking = own.post("/judge", files={"photo": ("skeins.jpg", content, "image/jpeg")}).url.path
    marks = {f"skein_{i}": ",".join(map(str, place)) for i, place in enumerate(PLACES, start=1)}
    corners = {f"corner_{i}": f"{x}, {y}" for i, (x, y) in enumerate(Scene().chart_corners, start=1)}
    page = own.post(marking, data={"chart": "corners", **corners, "tolerance": "1", "target": "", **marks})
    assert "/verdicts/" in page.url.path, page.text
    return own, page.url.path


def test_the_shops_page_shows_both_pictures_and_saves_the_wished_one(verdict):
    client, url = verdict
    assert f'{url}/shop"' in client.get(url).text

    page = client.get(f"{url}/shop?part=2&size=2048&square=on")

    assert page.status_code == 200
    assert "Colours and exposure are those of the chart" in page.text
    assert "Camera, day and place are not in it" in page.text
    sources = [
        source.replace("&amp;", "&") for source in re.findall(r'(?:src|href)="([^"]+shop\.jpg[^"]*)"', page.text)
    ]
    assert len(sources) == 3
    pictures = [Image.open(BytesIO(client.get(source).content)) for source in sources]
    assert pictures[0].size == pictures[1].size
    assert pictures[2].size[0] == pictures[2].size[1]
    assert client.get(sources[0]).content != client.get(sources[1]).content


def test_a_wish_for_a_skein_that_is_not_there_is_told(verdict):
    client, url = verdict
    assert "no skein 9" in client.get(f"{url}/shop?part=9").text
    assert client.get(f"{url}/shop?size=7").status_code == 422


def test_the_snip_s_page_compares_two_outlines(verdict):
    client, url = verdict
    page = client.get(f"{url}/snip?snip=2&against=1")
    assert page.status_code == 200
    assert re.search(r"It is [a-z ]*lighter", page.text)
    assert "dry, as guessed" in client.get(f"{url}/snip?snip=2&against=1&is_damp=on").text


def test_a_pair_is_typed_kept_and_taken_out_again(own):
    own.post("/shelf/bases/new", data={"name": "Fell", "fibres": "wool"})
    [url] = re.findall(r'href="(/shelf/bases/\d+)"', own.get("/shelf").text)
    assert f"{url}/wet" in own.get(url).text

    wrong = own.post(f"{url}/wet", data={"wet_typed": "50 0 0", "dry_typed": "30 0 0"})
    assert wrong.status_code == 422
    assert 'value="30 0 0"' in wrong.text

    kept = own.post(f"{url}/wet", data={"wet_typed": "38 -19 -9", "dry_typed": "48 -20 -10", "note": "wrung out"})
    assert "Learnt from 1 sample" in kept.text
    [remove] = re.findall(r'action="([^"]+/remove)"', kept.text)
    assert "No sample was judged" in own.post(remove).text
