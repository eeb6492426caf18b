"""Photos that wait for their verdict, and the worker that judges them."""

from datetime import UTC, datetime
from time import monotonic, sleep
from uuid import UUID, uuid4

import pytest
from scenes import Scene, jpeg, render

from dyewright.core.model import WorkState
from dyewright.errors import InputError, NotFoundError
from dyewright.records import photos, waiting
from dyewright.services.judging import queue
from dyewright.services.photos import keep_photo, look_at

NOW = datetime(2026, 11, 26, 12, 0, tzinfo=UTC)
LABS = [(45, -18, -12), (45, -18, -12), (52, -14, -8)]
PLACES = [(140 + 260 * i, 330, 180, 480) for i in range(3)]


@pytest.fixture(scope="module")
def picture():
    return jpeg(render(Scene(width=1000, skeins=list(zip(PLACES, LABS, strict=True)), strand_px=9, noise=0.006)))


@pytest.fixture(scope="module")
def nothing():
    return jpeg(render(Scene(width=600, height=400, skeins=[])))


@pytest.fixture
def worker(records):
    worker = queue.Worker(records, lambda: NOW)
    yield worker
    worker.stop()


def kept(records, content):
    seen = look_at(content)
    with records.begin() as session:
        return keep_photo(session, seen, photo_id=uuid4(), run_id=None, taken_at=NOW).id


def asked(records, *photo_ids):
    with records.begin() as session:
        return queue.ask_each(session, photo_ids, {}, None, NOW)


def once_done(records, works):
    """Return the works once none of them is open; a photo takes a second or two."""
    until = monotonic() + 60
    while monotonic() < until:
        with records.read() as session:
            now = [waiting.photo_work(session, work.id) for work in works]
        if all(work.state in {WorkState.DONE, WorkState.REFUSED} for work in now):
            return now
        sleep(0.05)
    pytest.fail("the worker did not come to an end within a minute")


def test_each_photo_gets_its_verdict_and_a_refused_one_holds_no_other_up(records, worker, picture, nothing):
    works = asked(records, kept(records, nothing), kept(records, picture))

    worker.wake()
    refused, done = once_done(records, works)

    assert refused.state is WorkState.REFUSED
    assert "no skein stands out" in refused.sentence
    assert refused.judgement_id is None
    with records.read() as session:
        judgement = photos.judgement(session, done.judgement_id)
    assert done.photo_ids == (judgement.photo_id,)
    assert len(judgement.result["skeins"]) == 3  # what the scene holds
    assert judgement.marks["chart"] == "auto"


def test_a_mistake_of_the_tool_on_one_photo_holds_no_other_up(records, worker, picture, monkeypatch):
    works = asked(records, kept(records, picture), kept(records, picture))
    judged = queue.judge_marked
    calls = iter([ZeroDivisionError("a fault"), None])

    def faulty(*given):
        if (fault := next(calls)) is not None:
            raise fault
        return judged(*given)

    monkeypatch.setattr(queue, "judge_marked", faulty)
    worker.wake()
    failed, done = once_done(records, works)

    assert {failed.state, done.state} == {WorkState.REFUSED, WorkState.DONE}
    assert queue.UNFORESEEN in {failed.sentence, done.sentence}


def test_work_added_while_the_worker_ends_is_not_forgotten(records, worker, picture):
    photo_id = kept(records, picture)
    for _ in range(3):  # each call finds the thread working, ending or gone
        works = asked(records, photo_id)
        worker.wake()
        assert once_done(records, works)[0].state is WorkState.DONE


def test_what_was_begun_when_the_program_stopped_is_taken_up_again(records, worker, picture):
    works = asked(records, kept(records, picture))
    with records.begin() as session:
        assert waiting.take_next(session).id == works[0].id  # and here the program stops

    worker.resume()

    assert once_done(records, works)[0].state is WorkState.DONE


def test_after_it_is_stopped_nothing_more_is_begun(records, worker, picture):
    works = asked(records, kept(records, picture))

    worker.stop()
    worker.wake()

    with records.read() as session:
        assert waiting.photo_work(session, works[0].id).state is WorkState.WAITING


def test_photos_of_one_lot_are_asked_for_together(records, picture):
    first, second = kept(records, picture), kept(records, picture)
    with records.begin() as session:
        work = queue.ask(session, first, {"chart": "auto", "more": str(second), "then": "swatches"}, NOW)
    assert work.photo_ids == (first, second)
    assert "then" not in work.marks


@pytest.mark.parametrize("more", ["nobody", " ".join(str(UUID(int=n)) for n in range(1, 13))])
def test_photos_that_are_none_or_too_many_are_refused_before_they_wait(records, picture, more):
    photo_id = kept(records, picture)
    with records.begin() as session, pytest.raises(InputError):
        queue.ask(session, photo_id, {"more": more}, NOW)


def test_a_photo_that_is_not_there_is_not_waited_for(records):
    with records.begin() as session, pytest.raises(NotFoundError):
        queue.ask(session, UUID(int=7), {}, NOW)


def test_the_list_tells_how_many_come_before(records, picture):
    photo_id = kept(records, picture)
    asked(records, photo_id, photo_id, photo_id)
    with records.read() as session:
        page = queue.waiting_page(session)
    assert page.still_open == 3
    assert sorted(line.before for line in page.lines) == [0, 1, 2]
    assert page.verdict_id is None
