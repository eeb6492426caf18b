import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dyewright.cli import app

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
    assert answer["observed"]["clarities"] == [{"at_min": 40.0, "exhaustion": 0.75}]
    assert answer["before"]["clear_at_min"] != answer["clear_at_min"]
    assert answer["beside"]["dyes"][0]["name"] == "Dye 1"


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
