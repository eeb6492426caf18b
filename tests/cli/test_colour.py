import json

import pytest
from named_shelf import CURVES
from synthetic_shelf import BASE, lab_of
from typer.testing import CliRunner

from dyewright.cli import app
from dyewright.core.colour import delta_e00
from dyewright.core.mixing import reflectance_from_k_over_s

RUN = CliRunner()


def answer(*words):
    result = RUN.invoke(app, [*map(str, words), "--json"])
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def refusal(*words):
    result = RUN.invoke(app, [*map(str, words)])
    assert result.exit_code == 2
    assert result.stdout == ""
    return result.stderr.strip()


def test_shade_gives_the_keys_that_scripts_rely_on(shelf):
    told = answer("shade", "--shelf", shelf, "--mix", "Blue=0.5,Yellow=0.2")

    assert {"lab", "reflectance", "wavelength_nm", "de00_95", "basis", "notes"} <= told.keys()
    assert told["basis"] == "fitted"
    assert told["wavelength_nm"] == list(range(400, 701, 10))
    # Truth by construction: the known curves added over the known base.
    true = BASE + 0.005 * CURVES[0] + 0.002 * CURVES[1]
    assert delta_e00(told["lab"], lab_of(true)) < 0.3
    assert told["reflectance"] == pytest.approx(reflectance_from_k_over_s(true), abs=0.01)


def test_match_gives_the_keys_that_scripts_rely_on(shelf):
    told = answer("match", "--shelf", shelf, "--target", "lab 45 -5 -5", "--best", 3)

    assert {"recipes", "reachable", "combinations", "seconds", "fit_seconds", "basis", "notes"} <= told.keys()
    assert told["combinations"] == 4 + 6 + 4
    assert 1 <= len(told["recipes"]) <= 3
    first = told["recipes"][0]
    keys = {"dyes", "lab", "de00", "decmc21", "other_light", "weighing_de00_p95", "de00_95", "why"}
    assert keys <= first.keys()
    assert {"name", "depth_percent"} == first["dyes"][0].keys()
    assert first["other_light"] is None
    assert first["why"]
    assert first["because"].startswith(("Comes closest", "Moves least", "Fewest jars"))


def test_limits_are_kept_to(shelf):
    limits = ("--must", "Red", "--never", "Black", "--deepest", "2 %", "--dry", "50 g", "--scale", "0.1 g")
    told = answer("match", "--shelf", shelf, "--target", "lab 45 -5 -5", *limits)

    assert told["combinations"] == 1 + 2 + 1  # Red alone, with Blue or Yellow, with both
    for recipe in told["recipes"]:
        assert "Red" in {dye["name"] for dye in recipe["dyes"]}
        assert all(dye["name"] != "Black" and dye["depth_percent"] <= 2 + 1e-9 for dye in recipe["dyes"])
        # By hand: 20 steps of 0.1 g are 2 g, 4 % of 50 g: everything comes from a stock.
        assert set(recipe["from_stock"]) == {dye["name"] for dye in recipe["dyes"]}
        assert "weighing to 0.1 g" in recipe["because"]


def test_every_combination_finds_the_same(shelf):
    asked = ("match", "--shelf", shelf, "--target", "lab 45 -5 -5", "--max-dyes", 4)
    usual, checked = answer(*asked), answer(*asked, "--every-combination")
    assert usual["combinations"] == checked["combinations"] == 4 + 6 + 4 + 1
    assert usual["recipes"] == checked["recipes"]


def test_overdye_gives_the_keys_that_scripts_rely_on(shelf):
    told = answer("overdye", "--shelf", shelf, "--from", "lab 70 -5 20", "--target", "lab 40 -5 0")

    assert {"recipes", "reachable", "combinations", "seconds", "from_lab", "advice", "darker_lab"} <= told.keys()
    assert told["from_lab"] == [70, -5, 20]
    assert told["recipes"][0]["de00"] < 70
    assert told["advice"]


def test_overdye_of_what_is_there_already_is_an_answer(shelf):
    told = answer("overdye", "--shelf", shelf, "--from", "lab 40 -5 0", "--target", "lab 40 -5 0")
    assert told["recipes"] == []
    assert told["reachable"] is True
    assert told["verdict"].startswith("It is there already")


def test_the_recipe_told_gives_the_shade_told(shelf):
    first = answer("match", "--shelf", shelf, "--target", "hex #705040")["recipes"][0]
    mix = ",".join(f"{dye['name']}={dye['depth_percent']}" for dye in first["dyes"])
    assert answer("shade", "--shelf", shelf, "--mix", mix)["lab"] == pytest.approx(first["lab"], abs=1e-6)


def test_a_measured_target_tells_other_light(shelf, tmp_path):
    curve = reflectance_from_k_over_s(BASE + 0.004 * CURVES[0] + 0.003 * CURVES[2])
    sample = tmp_path / "skein.csv"
    sample.write_text(
        ",".join(f"R{nm}" for nm in range(400, 701, 10)) + "\n" + ",".join(f"{value:.5f}" for value in curve) + "\n"
    )
    told = answer("match", "--shelf", shelf, "--target", f"swatch {sample}", "--max-dyes", 2)

    assert told["reachable"] is True
    closest = next(recipe for recipe in told["recipes"] if "closest" in recipe["why"])
    assert {dye["name"] for dye in closest["dyes"]} == {"Blue", "Red"}
    assert set(closest["other_light"]) == {"A", "FL11", "LED-B3"}
    assert max(closest["other_light"].values()) < 0.5


def test_a_colour_out_of_reach_is_told_plainly(shelf):
    told = answer("match", "--shelf", shelf, "--target", "lab 60 -70 60")
    assert told["reachable"] is False
    assert told["verdict"].startswith("Out of reach by")
    assert "chroma" in told["verdict"]
    assert "duller" in told["verdict"]


def test_difference_gives_the_keys_that_scripts_rely_on():
    told = answer("difference", "lab 50 2.6772 -79.7751", "lab 50 0 -82.7485")

    # Sharma, Wu, Dalal 2005, pair 1: 2.0425. ΔE*ab by hand: sqrt(2.6772² + 2.9734²) = 4.0011.
    assert told["de00"] == pytest.approx(2.0425, abs=5e-5)
    assert told["de76"] == pytest.approx(4.0011, abs=1e-4)
    assert {"de94", "decmc11", "decmc21", "dl", "dc", "dh"} <= told.keys()
    assert told["grey_scale_change"] in {"5", "4-5", "4", "3-4", "3", "2-3", "2", "1-2", "1"}
    assert told["words"]


def test_answers_are_readable_without_json(shelf):
    shade = RUN.invoke(app, ["shade", "--shelf", str(shelf), "--mix", "Blue=0.5"])
    match = RUN.invoke(app, ["match", "--shelf", str(shelf), "--target", "lab 45 -5 -5"])
    difference = RUN.invoke(app, ["difference", "lab 50 10 10", "lab 53 10 10"])

    assert "In 19 of 20 pots within" in shade.stdout
    assert "combinations tried" in match.stdout
    assert "foretold" in match.stdout
    over = RUN.invoke(app, ["overdye", "--shelf", str(shelf), "--from", "lab 30 0 0", "--target", "lab 70 0 0"])
    assert "only stripping part of it" in over.stdout
    assert difference.stdout.startswith("lighter")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("shade", "--mix", "Blue=-0.5"), "the depth of Blue is -0.5 %; it must be above 0 %"),
        (("shade", "--mix", "Purple=0.5"), "dye 'Purple' has no swatch on this shelf; it knows Blue"),
        (("shade", "--mix", "Blue=0.5", "--base", "silk"), "base 'silk' has no undyed swatch"),
        (("match", "--target", "lab 150 0 0"), "the lightness L of the colour is 150; it lies between 0"),
        (("match", "--target", "lab 50 0"), "needs three numbers"),
        (("match", "--target", "lab 50 0 nan"), "the b of the colour is nan"),
        (("match", "--target", "teal"), "the colour 'teal' is not understood"),
        (("match", "--target", "hex #12"), "not of the form #rrggbb"),
        (("match", "--target", "swatch missing.csv"), "missing.csv cannot be read"),
        (
            ("match", "--target", "lab 50 0 0", "--max-dyes", "5"),
            "a recipe of 5 dyes was asked for; it can have 1 to 4",
        ),
        (("match", "--target", "lab 50 0 0", "--best", "0"), "0 recipes were asked for"),
        (("match", "--target", "lab 50 0 0", "--must", "Sky"), "dye 'Sky' has no swatch on this shelf"),
        (("match", "--target", "lab 50 0 0", "--deepest", "0 %"), "the deepest that one dye may go was given as 0 %"),
        (("match", "--target", "lab 50 0 0", "--scale", "0.1 g"), "says nothing without the yarn"),
        (("match", "--target", "lab 50 0 0", "--dry", "0 g"), "the dry yarn was given as 0 g"),
        (("overdye", "--from", "teal", "--target", "lab 50 0 0"), "the colour 'teal' is not understood"),
    ],
)
def test_wrong_input_gets_one_sentence_and_exit_2(shelf, words, says):
    command, *rest = words
    said = refusal(command, "--shelf", shelf, *rest)
    assert says in said
    assert "\n" not in said


def test_swatches_without_an_undyed_base_are_refused(shelf, tmp_path):
    lines = [line for line in shelf.read_text(encoding="utf-8").splitlines() if ",0,ecru" not in line]
    path = tmp_path / "no-base.csv"
    path.write_text("\n".join(lines))
    assert "base 'ecru' has no undyed swatch" in refusal("match", "--shelf", path, "--target", "lab 50 0 0")


def test_a_photo_as_shelf_is_refused(tmp_path):
    path = tmp_path / "photo.jpg"
    path.write_bytes(b"\xff\xd8\xff\xe0\0\x10JFIF\0")
    assert "photo.jpg is not a text file" in refusal("shade", "--shelf", path, "--mix", "Blue=1")
