import json
from pathlib import Path

import pytest
from ready import place_demo
from typer.testing import CliRunner

from dyewright.cli import app

LAGOON = """
title = "Lagoon again"
[yarn]
fibre = { wool = 50, silk = 50 }
dry = "200 g"
[[dye]]
name = "Lagoon"
class = "acid milling"
depth = "0.8 %"
[bath]
liquor = "25:1"
[water]
alkalinity = "110 mg/L"
"""
EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
CARD = str(EXAMPLES / "choir-shawls.toml")


def run(*words):
    return CliRunner().invoke(app, ["forecast", *words])


def test_json_is_one_object_with_a_band_for_each_dye():
    done = run(CARD, "--json")
    answer = json.loads(done.stdout)

    assert done.exit_code == 0
    assert [dye["name"] for dye in answer["dyes"]] == ["Sea green", "Straw"]
    assert len(answer["t_min"]) == len(answer["bath_c"]) == len(answer["dyes"][0]["low"])
    assert answer["basis"] == "default"


def test_a_reading_and_a_second_card_go_along():
    done = run(CARD, "--observe", "40 min: 0.75", "--beside", str(EXAMPLES / "first-pot.toml"), "--json")
    answer = json.loads(done.stdout)

    assert answer["basis"] == "fitted"
    assert answer["observed"]["clarities"] == [{"at_min": 40.0, "exhaustion": 0.75, "sd_rungs": None}]
    assert answer["before"]["clear_at_min"] != answer["clear_at_min"]
    assert answer["beside"]["dyes"][0]["name"] == "Dye 1"
    assert answer["two_ways"]["verdict"]
    assert {"key", "left", "right", "better"} <= set(answer["two_ways"]["rows"][0])


def test_the_readable_answer_comes_first_and_says_how_sure_it_is():
    lines = run(CARD).stdout.splitlines()

    assert lines[1].startswith("Expect clear at ")
    assert "of 20 pots" in lines[1]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((CARD, "--observe", "20 min: 1.4"), "1.4 of the dye"),
        ((CARD, "--observe", "900 min: 0.5"), "900 min"),
        ((CARD, "--observe", "0.5"), "21 min: 0.87"),
        ((CARD, "--observe", "25 min: 300 C"), "Did you mean 30\u202f°C?"),
        ((CARD, "--observe", "rinses: 25"), "Did you mean 2 rinses or 5 rinses?"),
        ((CARD, "--beside", "nowhere.toml"), "nowhere.toml"),
        (("nowhere.toml",), "nowhere.toml"),
    ],
)
def test_wrong_input_exits_2_with_one_sentence(words, said):
    done = run(*words)

    assert done.exit_code == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert not done.stdout


def test_everything_that_is_seen_goes_into_the_answer():
    seen = ("20 min: 3/4", "68 C: 1/2", "15 min: 60 C", "5 min: pH 5", "rinses: 2")
    answer = json.loads(run(CARD, *(word for text in seen for word in ("--observe", text)), "--json").stdout)

    assert {key: len(found) for key, found in answer["observed"].items() if key != "rinses"} == {
        "clarities": 1,
        "clarities_at_heat": 1,
        "temperatures": 1,
        "phs": 1,
    }
    assert answer["observed"]["rinses"] == 2
    assert {"unfixed_owf", "rinses", "rinse_litres"} <= set(answer["wash_off"])
    assert {"index", "rating"} <= set(answer["felting"])


def test_a_bath_that_grows_darker_is_asked_about_and_still_answered():
    seen = ("--observe", "35 min: 7/8", "--observe", "41 min: 1/2")
    done = run(CARD, *seen)

    assert done.exit_code == 0
    assert "To ask: clarity at 41 min? The bath is noted as darker than at 35 min." in done.stdout
    assert json.loads(run(CARD, *seen, "--json").stdout)["doubts"][0]["ways"]


def test_the_readable_answer_names_every_part_and_what_it_rests_on():
    said = run(CARD).stdout

    for words in ("\nLevel: ", "\nWashes out: Clear in ", "\nFelting: ", "class estimate", "Less water: "):
        assert words in said


def test_a_studio_lends_its_pots_only_where_it_is_named(tmp_path):
    studio = place_demo(tmp_path)
    card = tmp_path / "card.toml"
    card.write_text(LAGOON, encoding="utf-8")
    alone, lent = (json.loads(run(str(card), "--json", *more).stdout) for more in ((), ("--studio", studio)))

    assert "class estimate" in alone["rests_on"][0]["words"]
    assert lent["rests_on"][0]["pots"] > 0
    assert lent["clear_at_min"] != alone["clear_at_min"]


def test_a_studio_that_is_not_there_is_said_to_be_missing(tmp_path):
    done = run(CARD, "--studio", str(tmp_path / "nowhere.sqlite"))
    assert done.exit_code == 1
    assert "there is no studio at" in done.stderr
