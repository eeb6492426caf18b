import json
import re

import pytest
from typer.testing import CliRunner

from dyewright.cli import app

RUNNER = CliRunner()
TAP = ["water", "--volume-l", "1", "--alkalinity-mg-l", "100"]


def run(*words):
    return RUNNER.invoke(app, [*TAP, *words])


def test_the_answer_as_json():
    result = run("--add", "white vinegar 5 %=5 mL", "--json")
    answer = json.loads(result.stdout)

    assert result.exit_code == 0
    assert answer["ph_closed"] == pytest.approx(4.69, abs=0.02)  # PHREEQC, reference notes J6
    assert {
        "ph_closed",
        "ph_stripped",
        "ph_before",
        "alkalinity_meq_l",
        "additions",
        "notes",
        "needed",
        "basis",
    } <= answer.keys()
    assert answer["needed"] is None
    assert answer["additions"][0]["label"] == "white vinegar 5 %"


def test_a_target_says_what_is_needed():
    result = run("--target-ph", "4.69", "--with", "white vinegar 5 %", "--json")
    needed = json.loads(result.stdout)["needed"]

    assert needed["amount"] == pytest.approx(5.0, rel=0.02)  # 5 mL/L, as above
    assert (needed["unit"], needed["kitchen"]) == ("mL", "1 tsp")


def test_every_option_of_the_interface():
    result = run(
        *("--ph", "7.8", "--temperature-c", "20", "--fibre", "wool", "--dry-g", "30", "--spoons", "US"),
        *("--add", "white vinegar 5 %=1 tbsp", "--add", "citric acid=0.1 g", "--json"),
    )
    answer = json.loads(result.stdout)

    assert result.exit_code == 0
    assert answer["basis"] == "measured"
    assert answer["acid_bound_mol_kg"] > 0
    assert [dose["label"] for dose in answer["additions"]] == ["white vinegar 5 %", "citric acid"]


@pytest.mark.parametrize("text", ["6 °dH", "2 meq/L", "unknown"])
def test_alkalinity_in_other_units(text):
    result = RUNNER.invoke(app, ["water", "--volume-l", "1", "--alkalinity-mg-l", text, "--json"])

    assert result.exit_code == 0
    assert (json.loads(result.stdout)["alkalinity_meq_l"] is None) == (text == "unknown")


def test_the_answer_to_read():
    result = run("--add", "white vinegar 5 %=5 mL")

    assert result.exit_code == 0
    assert "pH just mixed:      4.69" in result.stdout
    assert "white vinegar 5 %, 5\u202fmL (1 tsp)" in result.stdout


def test_unknown_water_reads_as_a_range():
    result = RUNNER.invoke(app, ["water", "--volume-l", "1", "--target-ph", "4.5", "--with", "vinegar"])

    assert result.exit_code == 0
    assert re.search(r"pH just mixed: +4\.5 \(3\.5 to 5\.\d\)", result.stdout)  # reference notes B2, 6 mL/L: 3.5 to 5.8
    assert "Needed: " in result.stdout


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--add", "zork=5 g"], "assistant 'zork' is not known"),
        (["--add", "citric acid=5 zorks"], "unknown unit 'zorks'"),
        (["--target-ph", "4.5"], "give both"),
        (["--target-ph", "2", "--with", "vinegar"], "out of reach"),
        (["--fibre", "wool", "--dry-g", "0"], "above 0 g"),
        (["--alkalinity-mg-l", "5 zorks"], "unknown unit 'zorks'"),
        (["--ph", "3"], "fizzes"),
    ],
)
def test_wrong_input_is_one_sentence_on_stderr(words, sentence):
    result = run(*words)

    assert result.exit_code == 2
    assert result.stdout == ""
    assert sentence in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
