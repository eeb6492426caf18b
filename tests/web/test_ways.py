"""From a verdict to labels: the button on a way out, the form that keeps the lot, the form's own sets."""

import re
from uuid import uuid4

import pytest
from scenes import Scene, jpeg, render

DEMO = "/demo"
BOXES = ["80,330,140,480", "260,330,140,480", "440,330,140,480"]


@pytest.fixture
def run(fresh):
    """The link of a run of the demo that is dyed and not kept."""
    listed = fresh.get(f"{DEMO}/runs").text
    links = re.findall(r'href="(/demo/runs/[0-9a-f-]{36})".*?slip-title">([^<]+)<', listed, re.DOTALL)
    return next(link for link, title in links if title == "Choir shawls, sea-green 5 of 5")


@pytest.fixture
def verdict(fresh, run):
    """The link of a verdict on its skeins: two alike and one that is clearly paler."""
    labs = [(45, -18, -12), (45, -18, -12), (53, -15, -8)]
    skeins = [((80 + 180 * i, 330, 140, 480), lab) for i, lab in enumerate(labs)]
    photo = jpeg(render(Scene(skeins=skeins, strand_px=9, noise=0.006)))
    marking = fresh.post(f"{run}/judge", files={"photo": ("skeins.jpg", photo, "image/jpeg")})
    fields = {f"skein_{number}": box for number, box in enumerate(BOXES, start=1)}
    answer = fresh.post(str(marking.url), data={"chart": "none", "tolerance": "1.5", "target": "", **fields})
    assert answer.status_code == 200, answer.text
    return str(answer.url.path)


def label_form(fresh, verdict):
    """The address that the button of the way "sell apart" goes to."""
    page = fresh.get(verdict).text
    return re.findall(r'action="(/demo/verdicts/[0-9a-f-]{36}/ways/\d+/label)"', page)[-1]


def test_what_is_no_way_is_told_beside_the_ways(fresh, verdict):
    page = fresh.get(verdict).text

    assert "Heating again does not help: milling and 1:2 metal complex dyes hardly move" in page  # as the demo's dyes
    assert "Top up skein 3" in page
    assert "By eye, for without a chart" in page


def test_one_tap_ticks_the_buyers_sentence_until_the_lot_is_kept(fresh, run, verdict):
    page = fresh.post(label_form(fresh, verdict))

    assert page.url.path == run
    assert re.search(r'name="label_\d+" checked> <span>“A lot of its own', page.text)
    assert "<option selected>B</option>" in page.text  # skein 3 is a set of its own


def test_the_lot_carries_the_sentence_and_its_verdict(fresh, run, verdict):
    form = label_form(fresh, verdict)
    number = form.split("/")[-2]
    kept = {"id": str(uuid4()), "judgement_id": verdict.split("/")[-1], f"label_{number}": "on"}
    answer = fresh.post(f"{run}/keep", data={**kept, "skein_1": "on", "skein_3": "on", "set_3": "A"})
    lot = re.search(r'href="(/demo/lots/[0-9a-f-]{36})"', answer.text)[1]

    assert "A lot of its own" in fresh.get(lot).text
    assert f'href="{verdict}"' in fresh.get(lot).text
    assert f'href="{verdict}"' in fresh.get(run).text
    again = fresh.post(form)
    assert again.url.path == lot


def test_a_set_that_is_none_loses_nothing(fresh, run, verdict):
    of = {"id": str(uuid4()), "judgement_id": verdict.split("/")[-1]}
    answer = fresh.post(f"{run}/keep", data={**of, "skein_1": "on", "set_1": "Q", "note": "my words"})

    assert answer.status_code == 422
    assert "cannot go to set" in answer.text
    assert 'value="my words"' in answer.text


def test_a_way_that_is_not_there_is_not_found(fresh, verdict):
    assert fresh.post(f"{verdict}/ways/99/label").status_code == 404
    assert fresh.post(f"{DEMO}/verdicts/{uuid4()}/ways/1/label").status_code == 404
