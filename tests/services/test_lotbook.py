from contextlib import closing
from datetime import date

import pytest
from ready import place_demo

from dyewright.errors import InputError
from dyewright.records import runs
from dyewright.services import lot_page, lotbook, studios


@pytest.fixture
def session(tmp_path):
    with closing(studios.open_studio(place_demo(tmp_path))) as records, records.read() as session:
        yield session


def found(session, **typed):
    return [line.lot.name for line in lotbook.search(session, lotbook.search_from_form(typed))]


@pytest.mark.parametrize(
    ("words", "names"),
    [
        ("hedge", ["2"]),  # a title
        ("FOXGLOVE mist", ["7"]),  # a dye and a base
        ("telephone", ["9"]),  # a note at the pot
        ("sold apart", ["9"]),  # the lot's own note
        ("run 10", ["10"]),
        ("nothing like this", []),
    ],
)
def test_a_lot_is_found_by_whatever_was_written_of_it(session, words, names):
    assert found(session, words=words) == names


def test_a_lot_is_found_by_the_words_for_its_colour(session):
    assert set(found(session, words="teal")) == {"4", "5", "6", "8", "9", "12"}


def test_the_nearest_colour_comes_first(session):
    # The middle sea-green of the choir was meant to be about lab 54.5 -18 -4.4: its trial and its row answer first.
    assert set(found(session, near="lab 54.5 -18 -4.4")[:2]) == {"4", "8"}
    assert found(session, near="54.5 -18 -4.4") == found(session, near="LAB 54.5 -18 -4.4")
    assert found(session, near="#c6454c")[0] == "2"  # the red one


def test_days_bound_the_search(session):
    assert found(session, since="2026-10-01", until="2026-10-10") == ["9", "8"]
    assert lotbook.search_from_form({"since": "2026-10-01"}).since == date(2026, 10, 1)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"since": "last spring"}, "since"),
        ({"until": "2026-13-01"}, "until"),
        ({"near": "teal"}, "near"),
        ({"near": "lab 50 -20"}, "near"),
        ({"near": "lab 50 nan 0"}, "near"),
        ({"near": "#12345"}, "near"),
    ],
)
def test_a_search_that_cannot_be_read_names_its_field(typed, field):
    with pytest.raises(InputError) as refused:
        lotbook.search_from_form(typed)
    assert refused.value.field == field


def test_the_page_of_a_lot_says_how_its_skeins_hold_together(session):
    pages = {name: lot_page.lot_page(session, lot_id(session, name)) for name in ("1", "9", "12", "10")}
    assert {name: page["together"] for name, page in pages.items()} == {
        "1": "1 and 3 together; 2 alone.",
        "9": "1, 2 and 4 together; 3 alone.",
        "12": "One skein.",
        "10": "All 6 together.",
    }
    assert pages["9"]["words"] == "deep greyish teal"
    # The demo's own tables by colour-science 0.4.7: the mean of run 9's skeins against Sea-green 4 is 0.987.
    assert pages["9"]["against"].de00 == pytest.approx(0.987, abs=0.02)
    assert pages["12"]["base_yarn"].name == "Shoreline wool–silk"


def lot_id(session, name):
    (line,) = [line for line in lotbook.search(session, lotbook.LotSearch()) if line.lot.name == name]
    return line.lot.id


def test_the_newest_runs_come_first(session):
    numbers = [line.number for line in runs.list_runs(session)]
    assert numbers == sorted(numbers, reverse=True)
    assert [line.number for line in runs.list_runs(session, limit=2, below_number=9)] == [8, 7]
