"""Two that write to one studio at once, each through a connection of its own: neither fails and nothing is lost."""

from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from threading import Barrier, Event
from uuid import uuid4

import pytest

from dyewright.core.model import Dye, DyeClass, Run, Settings
from dyewright.errors import NotFoundError
from dyewright.records import open_records, runs, shelf
from dyewright.services.studios import studio_url

EACH = 15


@pytest.fixture
def url(place):
    with closing(open_records(studio_url(place))) as begun, begun.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
    return studio_url(place)


def planned(session):
    number = runs.next_run_number(session)
    created_at = datetime(2026, 10, 3, 12, 0, tzinfo=UTC)
    return runs.add_run(session, Run(uuid4(), number, f"Run {number}", "", {}, "0.1.0", "abc", created_at))


def test_runs_planned_at_once_get_numbers_of_their_own(url):
    both_ready = Barrier(2)

    def plan_many():
        with closing(open_records(url)) as mine:
            both_ready.wait(timeout=20)
            for _ in range(EACH):
                with mine.begin() as session:
                    planned(session)

    with ThreadPoolExecutor(2) as dyers:
        for dyer in [dyers.submit(plan_many), dyers.submit(plan_many)]:
            dyer.result(timeout=60)
    with closing(open_records(url)) as opened, opened.read() as session:
        assert [run.number for run in runs.all_runs(session)] == list(range(1, 2 * EACH + 1))


def test_a_reader_sees_the_state_before_while_another_writes_and_the_next_writer_waits(url):
    written, seen = Event(), Event()

    def write_slowly():
        with closing(open_records(url)) as mine, mine.begin() as session:
            planned(session)
            written.set()
            assert seen.wait(timeout=20)

    def write_too():
        with closing(open_records(url)) as mine, mine.begin() as session:
            return planned(session).number

    with ThreadPoolExecutor(2) as dyers, closing(open_records(url)) as opened:
        slow = dyers.submit(write_slowly)
        assert written.wait(timeout=20)
        waiting = dyers.submit(write_too)
        with opened.read() as session:
            assert runs.all_runs(session) == [], "what is not finished is not seen, and does not hold up the reader"
        assert not waiting.done()
        seen.set()
        slow.result(timeout=20)
        assert waiting.result(timeout=20) == 2


def test_a_writer_that_fails_leaves_nothing_behind(url):
    with closing(open_records(url)) as opened:
        with pytest.raises(NotFoundError), opened.begin() as session:  # noqa: PT012 - what came before is the point
            shelf.save_dye(session, Dye("Reed", DyeClass.ACID_MILLING))
            planned(session)
            runs.run_numbered(session, 99)
        with opened.read() as session:
            assert runs.all_runs(session) == []
            assert shelf.dyes(session) == []
        with opened.begin() as session:
            assert planned(session).number == 1
