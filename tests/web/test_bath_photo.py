"""The bath's clarity from a photo of glasses: rendered here by the Beer-Lambert law under a lamp, stored as JPEG."""

import re
from io import BytesIO
from uuid import uuid4

import numpy as np
import pytest
from PIL import Image

from dyewright.core.colour import srgb_from_linear

GLASSES = (0.2, 0.0, 1.0, 0.5, 0.25, 0.125)  # the bath, water, the start and its dilutions, left to right
ABSORBANCE = np.array([0.9, 0.45, 0.12])


def photo_of_glasses() -> bytes:
    linear = np.full((200, 700, 3), 0.8)
    for place, left in enumerate(GLASSES):
        linear[40:180, 20 + 110 * place : 100 + 110 * place] = 0.7 * 10.0 ** -(left * ABSORBANCE)
    noise = np.random.default_rng(4).normal(0, 1.5, linear.shape)
    out = BytesIO()
    Image.fromarray(np.clip(srgb_from_linear(linear) * 255 + noise, 0, 255).astype(np.uint8)).save(out, "JPEG")
    return out.getvalue()


def marks(count: int = len(GLASSES)) -> dict[str, str]:
    return {f"glass_{place + 1}": f"{35 + 110 * place}, 60, 50, 100" for place in range(count)}


@pytest.fixture
def page(fresh):
    """The client, and the address of the bath page of a photo that was added to a run at the pot."""
    client, listed = fresh, fresh.get("/demo/runs").text
    [run_url] = re.findall(r'href="(/demo/runs/[0-9a-f-]{36})".{0,900}?Hedge in October', listed, re.DOTALL)[-1:]
    files = {"photo": ("glasses.jpg", photo_of_glasses(), "image/jpeg")}
    photo_id = str(uuid4())
    assert client.post(f"{run_url}/photo", files=files, data={"id": photo_id}).status_code == 200
    return client, f"{run_url}/photos/{photo_id}/bath"


def test_the_page_says_which_glass_is_which(page):
    client, url = page
    shown = client.get(url)
    assert shown.status_code == 200
    assert "the starting bath" in shown.text


def test_the_reading_lies_by_what_the_glass_holds_and_is_recorded_at_the_pot(page):
    client, url = page
    read = client.post(url, data=marks())
    [share] = re.findall(r"(\d+) % of the dye is in", read.text)
    assert int(share) == pytest.approx(80, abs=3)  # 0.2 of the start is left
    assert "dyes have gone in unequally" not in read.text

    kept = client.post(url, data={**marks(), "keep": "yes", "id": str(uuid4())})

    assert kept.url.path.endswith("/pot")
    assert "of the dye is in: from a photo" in kept.text


def test_without_dilutions_the_reading_says_that_it_is_rough(page):
    client, url = page
    assert "Without diluted glasses" in client.post(url, data=marks(3)).text


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (marks(2), "the colour of the starting bath is not known"),
        ({"glass_1": marks()["glass_1"]}, "mark the glass with plain water"),
        ({"glass_2": marks()["glass_2"]}, "mark the glass with the bath"),
        (marks() | {"glass_1": "here"}, "not four numbers"),
        (marks() | {"glass_1": "690, 60, 50, 100"}, "reaches beyond the photo"),
        (marks() | {"glass_3": marks()["glass_2"]}, "as pale as the water"),
    ],
)
def test_wrong_marks_are_told_at_their_glass_and_stay(page, typed, words):
    client, url = page
    refused = client.post(url, data=typed)
    assert refused.status_code == 422
    assert words in refused.text
    assert all(value in refused.text for value in typed.values())


def test_a_photo_of_another_run_is_not_read_here(page):
    client, url = page
    assert client.get(url.replace(url.split("/photos/")[1], f"{uuid4()}/bath")).status_code == 404


def test_once_the_start_is_known_water_beside_the_bath_is_enough(page):
    client, url = page
    alone = {name: marks()[name] for name in ("glass_2", "glass_3")}
    assert "The starting bath is known." in client.post(url, data=alone).text
    kept = client.post(url, data={**alone, "keep": "yes", "id": str(uuid4())})
    assert kept.status_code == 200
    assert "photographed beside plain water" in kept.text

    read = client.post(url, data=marks(2))

    [share] = re.findall(r"(\d+) % of the dye is in", read.text)
    assert int(share) == pytest.approx(80, abs=4)  # 0.2 of the start is left, by the law alone
    assert "The starting bath is the one of an earlier photo" in read.text


def test_a_bath_of_several_dyes_is_called_rough_before_and_after(page):
    client, url = page
    assert "Several dyes are in this bath" in client.get(url).text

    read = client.post(url, data=marks())

    [(share, low, high)] = re.findall(r"About (\d+) % of the dye is in \((\d+)–(\d+)\)", read.text)
    assert int(low) <= int(share) - 15 + 1
    assert int(high) >= min(100, int(share) + 15) - 1
