"""Photos that wait for their verdict, and the one worker that judges them: ten photos hold nobody up.

The worker is a thread of the app, there only while something waits. It judges outside any transaction. What was begun
when the program stopped is taken up again at the next start.
"""

import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from threading import Lock, Thread
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy.orm import Session

from dyewright.core.model import JudgeResult, PhotoWork, WorkState
from dyewright.errors import StudioError
from dyewright.records import Records, photos, waiting
from dyewright.services.judging.marks import kept_marks, more_photos, read_marks
from dyewright.services.judging.pages import judge_marked, keep_verdict, photo_contents, unmarked, with_ways_of

__all__ = ["Waiting", "WaitingPage", "Worker", "ask", "ask_each", "waiting_page"]

SHOWN = 40  # pieces of work, newest first
UNFORESEEN = "The tool made a mistake on this photo; it is kept. Mark the skeins by hand, or judge it again."
_log = logging.getLogger("dyewright.judging")


def ask(session: Session, photo_id: UUID, typed: Mapping[str, str], now: datetime) -> PhotoWork:
    """Ask for one verdict on the photos of one lot, with the marks of a form.

    Raises:
        InputError: a mark cannot be read.
        NotFoundError: a photo is not in the studio.
    """
    read_marks(typed)
    of = (photo_id, *more_photos(typed))
    run_id = photos.photo(session, photo_id).run_id
    return waiting.add_work(session, PhotoWork(uuid4(), of, now, run_id, kept_marks(typed)))


def ask_each(
    session: Session, photo_ids: Sequence[UUID], typed: Mapping[str, str], run_id: UUID | None, now: datetime
) -> list[PhotoWork]:
    """Ask for a verdict on each photo by itself, chart and skeins as they are found."""
    marks = kept_marks(unmarked(session, run_id) | dict(typed))
    asked = [PhotoWork(uuid4(), (one,), now, run_id, marks) for one in photo_ids]
    return [waiting.add_work(session, work) for work in asked]


@dataclass(frozen=True)
class Waiting:
    """One line of the list of what waits: `before` counts those before it; `verdict` is the answer once it is there."""

    work: PhotoWork
    before: int
    verdict: str
    skeins: int | None

    @property
    def is_open(self) -> bool:
        """Whether its verdict is still to come."""
        return self.work.state in {WorkState.WAITING, WorkState.WORKING}


@dataclass(frozen=True)
class WaitingPage:
    """What was asked for: `of` where one piece of work is followed alone."""

    lines: tuple[Waiting, ...]
    of: UUID | None

    @property
    def still_open(self) -> int:
        """How many verdicts are still to come."""
        return sum(line.is_open for line in self.lines)

    @property
    def verdict_id(self) -> UUID | None:
        """The verdict of the newest piece of work."""
        return self.lines[0].work.judgement_id if self.lines else None


def waiting_page(session: Session, work_id: UUID | None = None) -> WaitingPage:
    """Return what was asked for lately, newest first, or one piece of work alone.

    Raises:
        NotFoundError: that piece of work was never asked for.
    """
    lately = waiting.latest_work(session, SHOWN)
    in_line = [work.id for work in reversed(lately) if work.state is WorkState.WAITING]
    shown = lately if work_id is None else [waiting.photo_work(session, work_id)]
    return WaitingPage(tuple(_line(session, work, in_line) for work in shown), work_id)


def _line(session: Session, work: PhotoWork, in_line: Sequence[UUID]) -> Waiting:
    result: Mapping[str, Any] = {}
    if work.judgement_id is not None:
        result = photos.judgement(session, work.judgement_id).result
    before = in_line.index(work.id) if work.id in in_line else 0
    skeins = result.get("skeins")
    return Waiting(work, before, str(result.get("verdict", "")), None if skeins is None else len(skeins))


class Worker:
    """Judges what waits in one studio, one after another; `clock` says when a verdict was given."""

    def __init__(self, records: Records, clock: Callable[[], datetime]) -> None:
        self._records = records
        self._clock = clock
        self._lock = Lock()
        self._thread: Thread | None = None
        self._is_called = False
        self._is_stopped = False

    def resume(self) -> None:
        """Take up again what was begun or waited when the program stopped."""
        with self._records.begin() as session:
            waiting.put_back(session)
            is_any = any(work.state is WorkState.WAITING for work in waiting.latest_work(session, SHOWN))
        if is_any:
            self.wake()

    def wake(self) -> None:
        """See to it that what waits is judged: called after work was added."""
        with self._lock:
            self._is_called = True
            if self._thread is None and not self._is_stopped:
                self._thread = Thread(target=self._work, name="dyewright-judging", daemon=True)
                self._thread.start()

    def stop(self) -> None:
        """Let the photo in hand be finished, and begin no other."""
        with self._lock:
            self._is_stopped = True
            thread = self._thread
        if thread is not None:
            thread.join()

    def _work(self) -> None:
        while self._goes_on():
            try:
                while not self._is_stopped and self._judge_next():
                    pass
            except Exception:  # noqa: BLE001 - a thread has no caller to tell; the work waits on
                _log.exception("the records cannot be reached; what waits is judged once something else is asked for")

    def _goes_on(self) -> bool:
        """Return whether there was a call since the last look; where there was none, this thread is at its end."""
        with self._lock:
            goes_on = self._is_called and not self._is_stopped
            self._is_called = False
            if not goes_on:
                self._thread = None
            return goes_on

    def _judge_next(self) -> bool:
        """Judge what has waited longest; return whether there was anything."""
        with self._records.begin() as session:
            work = waiting.take_next(session)
        if work is None:
            return False
        try:
            with self._records.read() as session:
                contents = photo_contents(session, work.photo_ids)
            result = judge_marked(contents, read_marks(work.marks))
            with self._records.read() as session:
                result = with_ways_of(session, work.photo_ids[0], result)
            self._keep(work, result)
        except StudioError as error:
            self._refuse(work, error.message)
        except Exception:  # noqa: BLE001 - whatever one photo brings about, the others have their turn
            _log.exception("unforeseen error in judging %s", work.id)
            self._refuse(work, UNFORESEEN)
        return True

    def _keep(self, work: PhotoWork, result: JudgeResult) -> None:
        now = self._clock()
        more = " ".join(str(one) for one in work.photo_ids[1:])
        with self._records.begin() as session:
            if waiting.photo_work(session, work.id).judgement_id is not None:
                return  # another work place took it up meanwhile, and was quicker
            kept = keep_verdict(session, work.photo_ids[0], result, {**work.marks, "more": more}, now)
            waiting.finish_work(session, work.id, done_at=now, judgement_id=kept.id)

    def _refuse(self, work: PhotoWork, sentence: str) -> None:
        with self._records.begin() as session:
            waiting.finish_work(session, work.id, done_at=self._clock(), sentence=sentence)
