import json

import pytest
from typer.testing import CliRunner

from dyewright.cli import app
from dyewright.core.colour import delta_e00

RUN = CliRunner()


def answer(*words):
    result = RUN.invoke(app, ["series", *map(str, words), "--json"])
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def test_a_series_gives_the_keys_that_scripts_rely_on(shelf):
    told = answer("--shelf", shelf, "--from", "Blue=0.1", "--to", "Yellow=1+Red=0.5", "--skeins", 6)

    assert {"skeins", "basis", "notes", "base"} <= told.keys()
    assert told["basis"] == "fitted"
    assert len(told["skeins"]) == 6
    first, last = told["skeins"][0], told["skeins"][-1]
    assert {"dyes", "lab", "de00_to_next", "de00_95"} <= first.keys()
    assert [(dye["name"], dye["depth_percent"]) for dye in first["dyes"]] == [("Blue", pytest.approx(0.1))]
    assert [(dye["name"], dye["depth_percent"]) for dye in last["dyes"]] == [
        ("Yellow", pytest.approx(1)),
        ("Red", pytest.approx(0.5)),
    ]
    assert last["de00_to_next"] is None


def test_every_step_is_as_large_as_the_next_and_as_it_says(shelf):
    told = answer("--shelf", shelf, "--from", "undyed", "--to", "Blue=2", "--skeins", 5)
    steps = [skein["de00_to_next"] for skein in told["skeins"][:-1]]
    again = [
        float(delta_e00(one["lab"], other["lab"]))
        for one, other in zip(told["skeins"][:-1], told["skeins"][1:], strict=True)
    ]
    assert steps == pytest.approx(again, abs=1e-6)
    assert max(steps) - min(steps) < 0.01 * max(steps)
    assert told["skeins"][0]["dyes"] == []


def test_both_ends_may_be_colours_and_share_their_dyes(shelf):
    told = answer("--shelf", shelf, "--from", "lab 70 0 20", "--to", "hex #404858", "--skeins", 4)
    used = {dye["name"] for skein in told["skeins"] for dye in skein["dyes"]}
    assert len(used) <= 4
    assert all(len(skein["dyes"]) <= 4 for skein in told["skeins"])


def test_an_end_out_of_reach_is_said(shelf):
    told = answer("--shelf", shelf, "--from", "lab 50 90 80", "--to", "Blue=1", "--skeins", 3)
    assert told["from_de00"] > 1
    assert any("the first end is out of reach by" in note for note in told["notes"])


def test_a_grid_lies_between_three_dyes(shelf):
    told = answer("--shelf", shelf, "--grid", "Blue=1,Yellow=1,Red=0.5", "--skeins", 4)
    assert len(told["skeins"]) == 10  # 4 + 3 + 2 + 1
    assert told["skeins"][0]["place"] == [3, 0, 0]
    assert told["least_step_de00"] <= told["most_step_de00"]
    assert any("apart" in note for note in told["notes"])


def test_answers_are_readable_without_json(shelf):
    result = RUN.invoke(app, ["series", "--shelf", str(shelf), "--from", "undyed", "--to", "Blue=1", "--skeins", "3"])
    assert "3 skeins on ecru, each ΔE00" in result.stdout
    grid = RUN.invoke(app, ["series", "--shelf", str(shelf), "--grid", "Blue,Yellow,Red", "--skeins", "3"])
    assert "6 skeins on ecru, neighbours ΔE00" in grid.stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--from", "Blue=0.1"), "--to is missing"),
        (("--to", "Blue=0.1"), "--from is missing"),
        (("--from", "Blue=1", "--to", "Mauve=1"), "dye 'Mauve' has no swatch on this shelf"),
        (("--from", "Blue=1", "--to", "teal"), "the colour 'teal' is not understood"),
        (("--from", "Blue=x", "--to", "Red=1"), "is not a part of a mix"),
        (("--from", "Blue=1", "--to", "Blue=1"), "both ends look alike"),
        (("--from", "Blue=1", "--to", "Red=1", "--skeins", "1"), "a series of 1 skein was asked for; it has 2 to 60"),
        (("--from", "Blue=1", "--grid", "Blue,Red,Yellow"), "two ends or a grid"),
        (("--grid", "Blue,Red"), "between three dyes, 2 are named"),
        (("--grid", "Blue,Red,Blue"), "a dye stands twice"),
        (("--grid", "Blue,Red,Yellow", "--skeins", "40"), "a grid of 40 skeins a side was asked for; it has 3 to 11"),
        (("--from", "Blue=1", "--to", "Red=1", "--base", "silk"), "base 'silk' has no undyed swatch"),
    ],
)
def test_wrong_input_gets_one_sentence_and_exit_2(shelf, words, says):
    result = RUN.invoke(app, ["series", "--shelf", str(shelf), *words])
    assert result.exit_code == 2
    assert result.stdout == ""
    assert says in result.stderr
    assert "\n" not in result.stderr.strip()
