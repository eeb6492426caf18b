import json

import pytest
from named_shelf import CURVES, named_table
from scenes import Scene, jpeg, render
from synthetic_shelf import BASE, lab_of
from typer.testing import CliRunner

from dyewright.cli import app
from dyewright.services.judging._chart import reference_of

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


def test_orders_ways_and_cautions_are_told(picture):
    boxes = [part for box in BOXES for part in ("--box", box)]

    answer = run(picture, "--chart", "none", *boxes, "--orders", "2, 1", "--dyed-with", "Lagoon=acid levelling")

    assert "Order 1 (2 skeins): 1 and 2" in answer.stdout
    assert "levelling dyes even at the boil (Lagoon)" in answer.stdout
    assert "! Steam and hot liquor scald" in answer.stdout
    assert "on the label: A lot of its own" in answer.stdout


@pytest.fixture(scope="module")
def charted(tmp_path_factory):
    """Two skeins dyed 0.8 % Blue and one dyed 0.6 %, beside a chart, and the swatches of that dye."""
    folder = tmp_path_factory.mktemp("charted")
    labs = [tuple(lab_of(BASE + depth * CURVES[0]).tolist()) for depth in (0.008, 0.008, 0.005)]
    skeins = [((80 + 180 * i, 330, 140, 480), lab) for i, lab in enumerate(labs)]
    chart = reference_of(None, is_older_chart=False).xyz
    scene = Scene(skeins=skeins, chart_xyz=chart, strand_px=9, noise=0.006)
    (folder / "skeins.jpg").write_bytes(jpeg(render(scene)))
    (folder / "swatches.csv").write_text(named_table(), encoding="utf-8")
    corners = " ".join(f"{x},{y}" for x, y in scene.chart_corners)
    boxes = [part for box in BOXES for part in ("--box", box)]
    return [folder / "skeins.jpg", "--chart", corners, *boxes], folder / "swatches.csv"


def test_the_swatches_give_the_recipe_of_a_top_up(charted):
    photo, swatches = charted

    answer = run(*photo, "--shelf", swatches, "--dry", "100 g", "--dyed-with", "Blue", "--json")

    way = next(way for way in json.loads(answer.stdout)["ways"] if way["kind"] == "top up")
    assert way["skeins"] == [3]
    assert [dye["name"] for dye in way["top_up"]["dyes"]] == ["Blue"]
    # by construction 0.3 % of 100 g is lacking; the photo's differences are right to about a tenth
    assert way["top_up"]["dyes"][0]["dye_g"] == pytest.approx(0.3, rel=0.25)
    low, mid, high = way["foretold_de00"]
    assert low <= mid < high


def test_the_patches_of_the_chart_are_listed_when_asked_for(charted):
    photo, _ = charted

    assert "left out ΔE00" not in run(*photo).stdout
    assert run(*photo, "--chart-patches").stdout.count("with itself left out ΔE00") == 24


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--box", "1,2,3"], "is not four numbers x,y,w,h"),
        (["--box", "1000,500,900,100"], "reaches beyond the photo of 1200 × 900 pixels"),
        (["--chart", "0,0 9,9"], "neither auto, none, paper"),
        (["--tolerance", "0"], "must be above 0"),
        (["--orders", "three"], "the orders 'three' are not understood"),
        (["--dyed-with", "Lagoon=magic"], "the class 'magic' of Lagoon is not known"),
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
