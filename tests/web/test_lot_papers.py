"""The papers of a lot through its page: the snip card, the labels, the caution for the buyer."""

import re
import shutil
import subprocess

import pytest

needs_reader = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="the system has no pdftotext")
CAUTION = 'A hair lighter: "alternate" two rows & <so> on #1 $x$'


@pytest.fixture
def lot(fresh):
    """The client, and the address of a demo lot of three skeins."""
    listed = fresh.get("/demo/lots").text
    [url] = re.findall(r'href="(/demo/lots/[0-9a-f-]{36})"(?:(?!</a>).)*Pond in October', listed, re.DOTALL)[-1:]
    return fresh, url


def printed(content, tmp_path):
    file = tmp_path / "paper.pdf"
    file.write_bytes(content)
    said = subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True).stdout
    return re.sub(r"\s+", " ", said)


@needs_reader
def test_the_snip_card_has_a_place_for_every_skein_with_its_figures(lot, tmp_path):
    client, url = lot
    page = client.get(url).text
    answer = client.get(f"{url}/snip-card.pdf")

    assert answer.headers["content-type"] == "application/pdf"
    said = printed(answer.content, tmp_path)
    figures = re.findall(r"(\d+\.\d)  (−?\d+\.\d)  (−?\d+\.\d)", page)
    assert len(figures) == said.count("staple a snip here") == 3
    for lab in figures:
        assert " ".join(lab) in said
    assert "Moss 0.7" in said
    assert "print colours are approximate" in said


@needs_reader
def test_a_caution_goes_onto_its_skeins_label_and_off_again(lot, tmp_path):
    client, url = lot
    answer = client.post(f"{url}/skeins/2/caution", data={"caution_2": CAUTION})

    assert answer.status_code == 200
    assert "&#34;alternate&#34; two rows &amp; &lt;so&gt;" in answer.text
    said = printed(client.get(f"{url}/labels.pdf").content, tmp_path)
    assert said.count(CAUTION) == 1
    assert said.count("Pond in October") == 3
    assert "skein 3" in said

    client.post(f"{url}/skeins/2/caution", data={"caution_2": " "})
    assert CAUTION not in printed(client.get(f"{url}/labels.pdf").content, tmp_path)


def test_a_caution_longer_than_a_label_is_refused_and_stays_typed(lot):
    client, url = lot
    answer = client.post(f"{url}/skeins/1/caution", data={"caution_1": "x" * 121})

    assert answer.status_code == 422
    assert "121 characters long, a label holds 120" in answer.text
    assert "x" * 121 in answer.text


def test_a_skein_that_is_not_there_has_no_label(lot):
    client, url = lot
    assert client.post(f"{url}/skeins/99/caution", data={"caution_99": "apart"}).status_code == 404
