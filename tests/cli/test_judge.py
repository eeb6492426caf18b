import json

import pytest
from scenes import Scene, jpeg, render
from typer.testing import CliRunner

from dyewright.cli import app

BOXES = ["80,330,140,480", "260,330,140,480", "440,330,140,480"]


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    labs = [(45, -18, -12), (45, -18, -12), (52, -14, -8)]
    skeins = [((80 + 180 * i, 330, 140, 480), lab) for i, lab in enumerate(labs)]
    path = tmp_path_factory.mktemp("photos") / "skeins.jpg"
    path.write_bytes(jpeg(render(Scene(skeins=skeins, strand_px=9, noise=0.006))))
    return path


def run(*arguments):
    return CliRunner().invoke(app, ["judge", *map(str, arguments)])


def test_json_has_the_promised_keys(picture, tmp_path):
    out = tmp_path / "overlay.png"
    boxes = [part for box in BOXES for part in ("--box", box)]

    answer = run(picture, "--chart", "none", *boxes, "--tolerance", "1.5", "--overlay", out, "--json")

    result = json.loads(answer.stdout)
    # INTERFACES, "Judging"
    assert result.keys() >= {"chart", "skeins", "pairs", "sets", "advice", "notes", "basis"}
    assert result["chart"].keys() >= {
        "found", "corners", "fit_de00_median", "left_out_de00_median", "left_out_de00_p95", "warnings",
    }  # fmt: skip
    assert result["skeins"][0].keys() >= {"id", "outline", "lab", "lab_low", "lab_high", "evenness", "to_target"}
    assert result["skeins"][0]["evenness"].keys() >= {"de00_p95", "rating"}
    assert result["pairs"][0].keys() >= {"a", "b", "de00", "low", "high", "decmc21", "words"}
    assert result["sets"] == [[1, 2], [3]]
    assert result["basis"] == "relative"
    assert out.read_bytes().startswith(b"\x89PNG")
    assert answer.stderr == ""


def test_people_get_the_verdict_first(picture):
    boxes = [part for box in BOXES for part in ("--box", box)]

    answer = run(picture, "--chart", "none", *boxes)

    assert answer.stdout.splitlines()[0] == "1 and 2 match; skein 3 is a lot of its own."
    assert "deep greyish teal" in answer.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--box", "1,2,3"], "is not four numbers x,y,w,h"),
        (["--box", "1000,500,900,100"], "reaches beyond the photo of 1200 × 900 pixels"),
        (["--chart", "0,0 9,9"], "neither auto, none, paper"),
        (["--tolerance", "0"], "must be above 0"),
        (["--target", "teal"], "not understood"),
        (["--chart-values", "gone.csv"], "gone.csv cannot be read"),
        (["--chart", "none", "--overlay", "no/such/folder/o.png"], "cannot be written"),
    ],
)
def test_wrong_input_is_one_sentence_and_exit_2(picture, arguments, said):
    answer = run(picture, *arguments)

    assert answer.exit_code == 2
    assert said in answer.stderr
    assert answer.stderr.count("\n") == 1
    assert answer.stdout == ""


def test_a_text_file_is_no_photo(tmp_path):
    path = tmp_path / "notes.txt"
    path.write_text("run 12: blue 0.8 %", encoding="utf-8")

    answer = run(path)

    assert answer.exit_code == 2
    assert "notes.txt is not a picture this tool can read" in answer.stderr
