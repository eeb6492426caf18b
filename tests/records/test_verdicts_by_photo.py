from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest

from dyewright.core.model import Base, Fibre, Judgement, PhotoWork, Settings, WetPair, WorkState
from dyewright.errors import NotFoundError
from dyewright.records import photos, shelf, waiting, wet_pairs

NOW = datetime(2026, 11, 26, 9, tzinfo=UTC)


@pytest.fixture
def session(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
        yield session


def photo(session, content=b"picture"):
    return photos.add_photo(
        session,
        content,
        photo_id=uuid4(),
        run_id=None,
        media_type="image/jpeg",
        width_px=100,
        height_px=80,
        taken_at=NOW,
    )


def ask(session, minutes=0):
    work = PhotoWork(
        uuid4(), (photo(session).id, photo(session).id), NOW + timedelta(minutes=minutes), marks={"chart": "none"}
    )
    return waiting.add_work(session, work)


def test_a_verdict_keeps_its_marks_and_its_further_photos(session):
    one, two = photo(session), photo(session, b"other picture")
    kept = photos.add_judgement(
        session, Judgement(uuid4(), None, one.id, NOW, {}, "0.1.0", {"skein_1": "1, 2, 3, 4"}, (two.id,))
    )
    session.expire_all()
    assert photos.judgement(session, kept.id) == kept


def test_photos_are_taken_in_the_order_in_which_they_were_asked_for_and_once(session):
    later, first = ask(session, 5), ask(session)
    assert [waiting.take_next(session).id, waiting.take_next(session).id] == [first.id, later.id]
    assert waiting.take_next(session) is None
    assert waiting.photo_work(session, first.id).state is WorkState.WORKING


def test_work_asked_for_twice_is_asked_for_once(session):
    work = ask(session)
    assert waiting.add_work(session, work) == work
    assert waiting.latest_work(session) == [work]


def test_work_ends_with_a_verdict_or_with_a_sentence(session):
    good, bad = ask(session), ask(session, 1)
    kept = photos.add_judgement(session, Judgement(uuid4(), None, good.photo_ids[0], NOW, {}, "0.1.0"))
    done = waiting.finish_work(session, good.id, done_at=NOW, judgement_id=kept.id)
    refused = waiting.finish_work(session, bad.id, done_at=NOW, sentence="no skein stands out")
    assert (done.state, done.judgement_id) == (WorkState.DONE, kept.id)
    assert (refused.state, refused.sentence) == (WorkState.REFUSED, "no skein stands out")


def test_what_a_stopped_program_had_begun_waits_again(session):
    work = ask(session)
    waiting.take_next(session)
    waiting.put_back(session)
    session.expire_all()
    assert waiting.take_next(session).id == work.id


def test_a_verdict_on_a_photo_that_is_not_kept_is_refused(session):
    with pytest.raises(NotFoundError):
        waiting.add_work(session, PhotoWork(uuid4(), (uuid4(),), NOW))


def test_a_wet_and_dry_pair_belongs_to_its_base(session):
    base = shelf.save_base(session, Base("Fellside", {Fibre.WOOL: 1.0}))
    kept = wet_pairs.add_wet_pair(session, WetPair(base.id, (30, 1, 2), (42.5, 1, 3), date(2026, 11, 20)))
    assert wet_pairs.wet_pairs(session, base.id) == [kept]
    wet_pairs.remove_wet_pair(session, kept.id)
    assert wet_pairs.wet_pairs(session) == []
    with pytest.raises(NotFoundError):
        wet_pairs.add_wet_pair(session, WetPair(99, (30, 1, 2), (42.5, 1, 3), date(2026, 11, 20)))
