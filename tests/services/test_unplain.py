"""Plain values back into their types: a stored sheet is read as it was."""

import json
from pathlib import Path

import pytest

from dyewright.core.model import Enter, Pot, Sheet, Yarn
from dyewright.errors import DataFileError
from dyewright.services.plain import plain
from dyewright.services.planning import plan, read_card
from dyewright.services.unplain import from_plain

EXAMPLES = sorted((Path(__file__).parents[2] / "docs" / "examples").glob("*.toml"))


@pytest.mark.parametrize("card", EXAMPLES, ids=lambda path: path.stem)
def test_a_sheet_goes_there_and_back(card):
    sheet = plan(read_card(card.read_text(encoding="utf-8")))
    assert from_plain(Sheet, json.loads(json.dumps(plain(sheet)))) == sheet


def test_a_field_that_was_not_yet_there_takes_its_default():
    assert from_plain(Pot, {"volume_l": 12}) == Pot(12.0)


def test_a_key_of_a_later_version_is_passed_over():
    assert from_plain(Enter, {"at_c": 30.0, "later": 1}) == Enter(30.0)


@pytest.mark.parametrize(
    ("kind", "value", "words"),
    [
        (Pot, {}, "lacks volume_l"),
        (Pot, {"volume_l": "12"}, "is no float"),
        (Pot, {"volume_l": 12, "heating": "candle"}, "no Heating"),
        (Pot, [], "is no"),
        (Yarn, {"fibre_frac": {"straw": 1.0}, "dry_g": 1.0}, "no Fibre"),
        (Sheet, {"title": 3}, "is no str"),
    ],
)
def test_what_does_not_fit_is_named(kind, value, words):
    with pytest.raises(DataFileError, match=words):
        from_plain(kind, value)
