from datetime import UTC, date, datetime
from decimal import Decimal
from hashlib import sha256
from uuid import uuid4

import pytest
from sqlalchemy import event

from dyewright.core.model import Judgement, Lot, Run, Settings, Skein
from dyewright.errors import InputError, NotFoundError
from dyewright.records import lots, photos, runs, shelf, tables

NOON = datetime(2026, 10, 3, 12, tzinfo=UTC)


@pytest.fixture
def session(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
        yield session


@pytest.fixture
def run(session) -> Run:
    return runs.add_run(session, Run(uuid4(), runs.next_run_number(session), "Choir", "", {}, "0", "0", NOON))


def kept(session, run, name, day=1, lab=None, text="") -> Lot:
    lot = Lot(uuid4(), run.id, name, date(2026, 10, day), "note", (Skein(1, Decimal("98.500"), lab, "A", "soft"),))
    return lots.add_lot(session, lot, search_text=text)


def found(session, **asked) -> list[str]:
    return [line.lot.name for line in lots.search_lots(session, **asked)]


def test_a_lot_comes_back_with_its_skeins(session, run):
    lot = kept(session, run, "1-A", lab=(50.0, 1.0, 2.0))
    assert lots.lot(session, lot.id) == lot
    assert lots.lots_of_run(session, run.id) == [lot]
    assert lots.all_lots(session) == [(lot, "")]


def test_lots_are_found_by_every_word_in_any_letters(session, run):
    kept(session, run, "1", text="Harbour dusk Straße Reed 100% wool")
    kept(session, run, "2", text="Harbour dawn")
    assert found(session, words=["HARBOUR"]) == ["2", "1"]
    assert found(session, words=["harbour", "dusk"]) == ["1"]
    assert found(session, words=["STRASSE"]) == ["1"]  # folded letters, not merely lower ones
    assert found(session, words=["0%"]) == ["1"]  # signs of the database's own patterns mean themselves
    assert found(session, words=["%"]) == ["1"]
    assert found(session, words=["_"]) == []


def test_lots_are_found_by_their_days(session, run):
    for day in (1, 2, 3):
        kept(session, run, str(day), day=day)
    assert found(session) == ["3", "2", "1"]
    assert found(session, since=date(2026, 10, 2)) == ["3", "2"]
    assert found(session, since=date(2026, 10, 2), until=date(2026, 10, 2)) == ["2"]
    assert found(session, limit=1) == ["3"]


def test_lots_are_found_by_their_nearest_skein(session, run):
    two = (Skein(1, lab=(50.0, 0.0, 0.0)), Skein(2, lab=(80.0, 0.0, 0.0)))
    lots.add_lot(session, Lot(uuid4(), run.id, "two", date(2026, 10, 1), skeins=two), search_text="")
    kept(session, run, "near", lab=(50.0, 3.0, 4.0))
    kept(session, run, "far", lab=(10.0, 0.0, 0.0))
    kept(session, run, "unjudged")
    lines = lots.search_lots(session, near=(50.0, 3.0, 4.0), within_de76=6.0)
    # By hand: (3, 4) is 5 away from (0, 0); the lot's other skein is 30 lighter and does not count.
    assert [(line.lot.name, line.de76) for line in lines] == [("near", 0.0), ("two", pytest.approx(5.0))]
    assert found(session, near=(50.0, 3.0, 4.0), within_de76=4.99) == ["near"]


def test_a_longer_lot_book_takes_no_more_queries(records):
    def queries() -> int:
        asked = []
        with records.read() as reading:
            event.listen(reading.bind, "before_cursor_execute", lambda *told: asked.append(told[2]))
            lots.search_lots(reading)
        return len(asked)

    with records.begin() as writing:
        shelf.save_settings(writing, Settings("Boathouse"))
    counts = []
    for name in ("1", "2", "3"):
        with records.begin() as writing:
            new = Run(uuid4(), runs.next_run_number(writing), "Choir", "", {}, "0", "0", NOON)
            kept(writing, runs.add_run(writing, new), name)
        counts.append(queries())
    assert counts[0] == counts[1] == counts[2] > 0


def test_wrong_lots_are_refused(session, run):
    kept(session, run, "1")
    with pytest.raises(InputError, match="“1” is there already"):
        kept(session, run, "1")
    twice = Lot(uuid4(), run.id, "2", date(2026, 10, 1), skeins=(Skein(4), Skein(4)))
    with pytest.raises(InputError, match="skein 4 is there twice"):
        lots.add_lot(session, twice, search_text="")
    weightless = Lot(uuid4(), run.id, "3", date(2026, 10, 1), skeins=(Skein(1, Decimal(0)),))
    with pytest.raises(InputError, match="must be above 0, got 0 g"):
        lots.add_lot(session, weightless, search_text="")
    with pytest.raises(NotFoundError, match="there is no run"):
        lots.add_lot(session, Lot(uuid4(), uuid4(), "4", date(2026, 10, 1)), search_text="")


def photographed(session, content, run_id=None, photo_id=None):
    return photos.add_photo(
        session,
        content,
        photo_id=photo_id or uuid4(),
        run_id=run_id,
        media_type="image/jpeg",
        width_px=4000,
        height_px=3000,
        taken_at=NOON,
    )


def test_a_photo_comes_back_byte_for_byte_and_is_kept_once(session, run):
    content = bytes(range(256)) * 1000
    photo = photographed(session, content, run.id)
    again = photographed(session, content, run.id, photo.id)
    elsewhere = photographed(session, content)

    assert again == photo == photos.photo(session, photo.id)
    assert photo.sha256 == sha256(content).hexdigest() == elsewhere.sha256
    assert photos.photo_content(session, photo.id) == content
    assert photos.photos_of_run(session, run.id) == [photo]
    assert session.query(tables.PhotoContentRow).count() == 1


def test_wrong_photos_are_refused(session, run):
    photo = photographed(session, b"one", run.id)
    with pytest.raises(InputError, match="another photo is kept already"):
        photographed(session, b"two", run.id, photo.id)
    with pytest.raises(InputError, match="empty"):
        photographed(session, b"")
    with pytest.raises(NotFoundError, match="there is no photo"):
        photos.photo_content(session, uuid4())


def test_verdicts_are_kept_as_computed(session, run):
    photo = photographed(session, b"one", run.id)
    earlier = Judgement(uuid4(), run.id, photo.id, NOON, {"skeins": [{"lab": [50.0, 1.5, 2.0]}]}, "0.1.0")
    without_run = Judgement(uuid4(), None, photo.id, NOON.replace(hour=13), {}, "0.1.0")
    for judgement in (earlier, without_run):
        photos.add_judgement(session, judgement)
    assert photos.judgement(session, earlier.id) == earlier
    assert photos.judgements_of_run(session, run.id) == [earlier]
    assert photos.all_judgements(session) == [earlier, without_run]
