"""`dyewright plan` through the real command: what a script reads, what a dyer reads, what goes wrong."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dyewright.cli import app

EXAMPLES = sorted((Path(__file__).parents[2] / "docs" / "examples").glob("*.toml"))
runner = CliRunner()


def plan(*args):
    return runner.invoke(app, ["plan", *map(str, args)])


@pytest.mark.parametrize("card", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_gives_one_json_object(card):
    result = plan(card, "--json")
    assert result.exit_code == 0, result.stderr
    assert result.stderr == ""
    sheet = json.loads(result.stdout)
    assert sheet["dry_g"] > 0
    assert sheet["steps"]


@pytest.mark.parametrize("card", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_reads_as_text(card):
    result = plan(card)
    assert result.exit_code == 0, result.stderr
    for words in ("Water from the tap", "Weights", "Steps", "Caution:", "Notes"):
        assert words in result.stdout


def test_the_sheet_is_written_as_pdf(tmp_path):
    file = tmp_path / "sheet.pdf"
    result = plan(EXAMPLES[0], "--pdf", file)
    assert result.exit_code == 0, result.stderr
    assert result.stdout == ""
    assert file.read_bytes().startswith(b"%PDF-")


WRONG = [
    ('[yarn]\ndry = "0 g"\n[[dye]]\ndepth = "1 %"', "above 0 g"),
    ('[yarn]\ndry = "5 zorks"\n[[dye]]\ndepth = "1 %"', "unknown unit 'zorks'"),
    ('[yarn]\ndry = "5 kg"\n[[dye]]\ndepth = "1 %"\n[[pot]]\nvolume = "5 L"', "pot of 5 L is too small"),
    ('[yarn]\ndry = "5 g"\n[[dye]]\ndepth = "-1 %"', "below 0 %"),
    ('[yarn]\ndry = "5 g"', "at least one dye"),
    ('[yarn]\ndry = "5 g"\n[[dye]]\ndepht = "1 %"', "did you mean 'depth'"),
    ("not toml at all", "no readable TOML"),
    ("", "dry weight is missing"),
]


@pytest.mark.parametrize(("text", "words"), WRONG)
def test_a_wrong_card_exits_two_with_one_sentence(tmp_path, text, words):
    card = tmp_path / "card.toml"
    card.write_text(text, encoding="utf-8")
    result = plan(card, "--json")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert words in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_a_card_that_is_no_text_is_refused(tmp_path):
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(b"\xff\xd8\xff\xe0" * 100)
    result = plan(photo)
    assert result.exit_code == 2
    assert "not text in UTF-8" in result.stderr


def test_a_file_too_large_for_a_card_is_refused(tmp_path):
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 1_000_001)
    result = plan(large)
    assert result.exit_code == 2
    assert "too large for a card" in result.stderr


@pytest.mark.parametrize("name", ["missing.toml", "."])
def test_a_card_that_is_not_there_is_named(tmp_path, name):
    result = plan(tmp_path / name)
    assert result.exit_code == 2
    assert "cannot be read" in result.stderr


def test_a_pdf_that_cannot_be_written_exits_one(tmp_path):
    result = plan(EXAMPLES[0], "--pdf", tmp_path / "no" / "sheet.pdf")
    assert result.exit_code == 1
    assert "cannot be written" in result.stderr
