import json
from importlib.resources import files

import numpy as np
import pytest
from scenes import saved
from typer.testing import CliRunner

from dyewright.cli import app

DEMO = files("dyewright.services").joinpath("demo_data")
SWATCHES = str(DEMO.joinpath("swatches.csv"))


@pytest.fixture
def stripes(tmp_path):
    codes = np.empty((120, 360, 3), np.uint8)
    for place, code in enumerate([(70, 120, 125), (200, 175, 140), (0, 255, 60)]):
        codes[:, 120 * place : 120 * (place + 1)] = code
    path = tmp_path / "stripes.png"
    path.write_bytes(saved(codes, "PNG"))
    return str(path)


def run(*arguments):
    return CliRunner().invoke(app, ["palette", *arguments])


def test_json_has_each_colour_with_the_nearest_of_the_shelf(stripes):
    answer = run(stripes, "--shelf", SWATCHES, "--base", "Fellside wool", "--colours", "3", "--json")
    result = json.loads(answer.stdout)
    assert result.keys() >= {"colours", "base", "chart", "basis", "notes"}
    assert (result["base"], result["basis"], result["chart"]["found"]) == ("Fellside wool", "relative", False)
    assert len(result["colours"]) == 3
    assert sum(colour["area_frac"] for colour in result["colours"]) == pytest.approx(1)
    first = result["colours"][0]
    assert first.keys() == {"lab", "hex", "words", "area_frac", "x_frac", "y_frac", "de00_95", "nearest"}
    assert first["nearest"].keys() == {"dyes", "lab", "hex", "de00", "de00_95", "words"}
    assert first["nearest"]["dyes"][0].keys() == {"name", "depth_percent"}
    green = next(colour for colour in result["colours"] if colour["hex"] == "#00ff3c")
    assert green["nearest"]["de00"] > 1, "the green of the screen is beyond the dyes"
    assert green["de00_95"] is None, "without a chart nobody knows how well the photo shows it"


def test_words_say_what_it_leans_on(stripes):
    answer = run(stripes, "--shelf", SWATCHES)
    assert answer.exit_code == 0
    assert "an intention, not a measurement" in answer.stdout
    assert "in 19 of 20 pots" in answer.stdout


def test_in_harmony_the_answer_says_what_is_kept(stripes):
    asked = (stripes, "--shelf", SWATCHES, "--colours", "3", "--json")
    together, alone = json.loads(run(*asked, "--harmony").stdout), json.loads(run(*asked).stdout)
    assert "contrast" in together["notes"][0]
    # Each alone comes nearest to its own colour; 0.3 ΔE00 is given away for a recipe with fewer dyes.
    for one, other in zip(together["colours"], alone["colours"], strict=True):
        assert one["lab"] == other["lab"]
        assert one["nearest"]["de00"] >= other["nearest"]["de00"] - 0.35


def test_a_photo_with_a_chart_is_measured():
    result = json.loads(run(str(DEMO.joinpath("photo-9.jpg")), "--json").stdout)
    assert result["basis"] == "measured"
    assert all(colour["de00_95"] > 0 for colour in result["colours"])
    assert all(colour["nearest"] is None for colour in result["colours"])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nowhere.jpg"], "nowhere.jpg cannot be read"),
        (["{photo}", "--colours", "12"], "3 to 8"),
        (["{photo}", "--shelf", SWATCHES, "--base", "Moon wool"], "Moon wool"),
    ],
)
def test_wrong_input_is_one_sentence_and_exit_code_2(stripes, arguments, said):
    answer = run(*(argument.format(photo=stripes) for argument in arguments))
    assert answer.exit_code == 2
    assert said in answer.stderr
    assert answer.stdout == ""
