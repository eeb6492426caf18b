"""What each run taught. A lesson is computed from its run, so it may be replaced, unlike the run itself."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any
from uuid import UUID

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from dyewright.core.model import DyeClass, EventKind, FibreGroup, Lesson, LevelLesson, Subject
from dyewright.records.tables import EventRow, LessonRow, RunRow

__all__ = ["lesson", "lessons", "remove_lesson", "runs_without_lesson", "save_lesson"]

TELLING = (EventKind.CLARITY, EventKind.RINSED, EventKind.JUDGED)  # what a lesson is made of


def lesson(session: Session, run_id: UUID) -> Lesson | None:
    """Return what a run taught; None where it taught nothing yet."""
    row = session.get(LessonRow, run_id)
    return None if row is None else _lesson(row.content)


def lessons(session: Session, *, before_number: int | None = None) -> dict[UUID, Lesson]:
    """Return what every run taught, or those numbered below one, in their order."""
    query = select(LessonRow).join(RunRow, RunRow.id == LessonRow.run_id).order_by(RunRow.number)
    if before_number is not None:
        query = query.where(RunRow.number < before_number)
    return {row.run_id: _lesson(row.content) for row in session.scalars(query)}


def save_lesson(session: Session, run_id: UUID, lesson: Lesson, *, made_with: str) -> None:
    """Keep what a run taught, in place of an earlier computing of it."""
    content = asdict(lesson)
    row = session.get(LessonRow, run_id)
    if row is None:
        session.add(LessonRow(run_id=run_id, made_with=made_with, content=content))
    else:
        row.made_with, row.content = made_with, content
    session.flush()


def remove_lesson(session: Session, run_id: UUID) -> None:
    """Forget what a run taught, as when its readings were all undone."""
    row = session.get(LessonRow, run_id)
    if row is not None:
        session.delete(row)
        session.flush()


def runs_without_lesson(session: Session, made_with: str) -> list[UUID]:
    """Return the runs that have something to tell but no lesson that was computed in this way, in their order."""
    is_telling = exists().where(EventRow.run_id == RunRow.id, EventRow.kind.in_(TELLING))
    query = (
        select(RunRow.id)
        .outerjoin(LessonRow, RunRow.id == LessonRow.run_id)
        .where((LessonRow.run_id.is_(None) & is_telling) | (LessonRow.made_with != made_with))
        .order_by(RunRow.number)
    )
    return list(session.scalars(query))


def _lesson(content: Mapping[str, Any]) -> Lesson:
    level = content["level"]
    return Lesson(
        subjects=tuple(
            Subject(one["dye"], DyeClass(one["dye_class"]), FibreGroup(one["yarn"])) for one in content["subjects"]
        ),
        precision=tuple(tuple(row) for row in content["precision"]),
        pull=tuple(content["pull"]),
        readings=content["readings"],
        level=None if level is None else LevelLesson(**level),
        surprises=tuple(content["surprises"]),
    )
