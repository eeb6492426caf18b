"""The pages before a verdict: photos taken in, their skeins and chart proposed, marked, judged and kept."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy.orm import Session

import dyewright
from dyewright.core.model import Event, EventKind, Judgement, JudgeResult, Lab, Run
from dyewright.errors import NotFoundError
from dyewright.photo.chart import find_charts
from dyewright.photo.load import quick_photo
from dyewright.photo.outlines import find_shapes
from dyewright.records import colourways, photos, runs
from dyewright.services.judging.marks import (
    CORNERS,
    Marks,
    corners_typed,
    found_corners_text,
    kept_marks,
    marks_again,
    more_photos,
    outline_text,
    skein_fields,
)
from dyewright.services.judging.studio_ways import with_studio_ways
from dyewright.services.judging.tolerance import usual_tolerance
from dyewright.services.judging.verdict import judge
from dyewright.services.learning.keeping import keep_what_it_taught
from dyewright.services.plain import plain

__all__ = ["begin_page", "judge_marked", "keep_verdict", "marking_page", "photo_contents", "unmarked", "with_ways_of"]

CHART_CHOICES = (
    ("corners", "A 24-patch chart, between its corners"),
    ("grey", "A grey card, between its corners: poorer than a chart"),
    ("paper", "A piece of white paper, between its corners: poorer still"),
    ("ground", "Nothing, but the skeins lie on white paper"),
    ("none", "Nothing: differences only"),
    ("auto", "A 24-patch chart somewhere: search for it"),
)
SPARE_ROWS = 2  # empty fields for further skeins, for a page without script


def begin_page(session: Session, run_id: UUID | None) -> dict[str, object]:
    """Return what the page shows on which photos are chosen: the run they are of, and its photos so far."""
    if run_id is None:
        return {"run": None, "photos": []}
    return {"run": runs.run(session, run_id), "photos": photos.photos_of_run(session, run_id)}


def unmarked(session: Session, run_id: UUID | None) -> dict[str, str]:
    """Return the form as it is before anything was looked for: the usual tolerance, the run's target."""
    target = _target_of(session, None if run_id is None else runs.run(session, run_id))
    said = "" if target is None else "lab " + " ".join(f"{value:.1f}" for value in target)
    return {"chart": "auto", "tolerance": f"{usual_tolerance(session).de00:g}", "target": said}


def marking_page(
    session: Session,
    photo_id: UUID,
    typed: Mapping[str, str] | None = None,
    *,
    more: str = "",
    verdict_id: UUID | None = None,
    is_looked_at: bool = True,
) -> dict[str, object]:
    """Return what the page for marking shows: the photos, and outlines and corners as typed, as judged, or as found.

    Args:
        session: of the studio.
        photo_id: the first photo.
        typed: the form as it was sent, where it was refused.
        more: further photos of the lot, by identifier, where nothing was typed.
        verdict_id: an earlier verdict to mark again, where nothing was typed.
        is_looked_at: whether skeins and chart are looked for now; otherwise the page asks for that by itself.

    Raises:
        NotFoundError: a photo or the verdict is not in the studio.
    """
    shown, asked = _shown(session, photo_id, typed, more, verdict_id, is_looked_at=is_looked_at)
    photo = photos.photo(session, photo_id)
    boxes = [shown[name] for name in skein_fields(shown) if shown[name].strip()]
    return {
        "photo": photo,
        "photos": [photo, *(photos.photo(session, one) for one in asked)],
        "run": None if photo.run_id is None else runs.run(session, photo.run_id),
        "typed": shown,
        "more": " ".join(str(one) for one in asked),
        "boxes": boxes + [""] * SPARE_ROWS,
        "found": _found_words(len(boxes), has_chart=shown.get("chart", "auto") != "none"),
        "corner_names": CORNERS,
        "chart_choices": CHART_CHOICES,
        "tolerance_words": usual_tolerance(session).words,
        "is_looked_at": is_looked_at or typed is not None or verdict_id is not None,
    }


def _shown(
    session: Session,
    photo_id: UUID,
    typed: Mapping[str, str] | None,
    more: str,
    verdict_id: UUID | None,
    *,
    is_looked_at: bool,
) -> tuple[dict[str, str], Sequence[UUID]]:
    """Return the form and the further photos: as typed, else as the verdict was given, else as found."""
    if typed is not None:
        return dict(typed), more_photos(typed)
    if verdict_id is not None:
        judgement = photos.judgement(session, verdict_id)
        return marks_again(judgement), judgement.more_photo_ids
    shown, asked = unmarked(session, photos.photo(session, photo_id).run_id), more_photos({"more": more})
    if is_looked_at:
        shown |= _found(photo_contents(session, [photo_id, *asked]))
    return shown, asked


def _found(contents: Sequence[bytes]) -> dict[str, str]:
    """Return the fields of what is found by itself: the first photo's chart, and the skeins of all."""
    fields: dict[str, str] = {}
    for number, content in enumerate(contents, start=1):
        loaded = quick_photo(content)
        charts = find_charts(loaded)
        corners = charts[0] if charts else None
        if number == 1:
            fields |= {"chart": "none"} if corners is None else _found_chart(corners.tolist())
        for shape in find_shapes(loaded, corners):
            name = f"skein_{1 + len(skein_fields(fields))}"
            fields[name] = outline_text(shape.outline, number)
    return fields


def _found_chart(corners: Sequence[Sequence[float]]) -> dict[str, str]:
    typed = corners_typed(corners)
    return {"chart": "corners", **typed, "chart_found": found_corners_text(";".join(typed.values()))}


def _found_words(skeins: int, *, has_chart: bool) -> str:
    if not skeins:
        return "No skein stands out from the ground: draw an outline round each."
    words = {1: "One skein", 2: "Two skeins", 3: "Three skeins", 4: "Four skeins", 5: "Five skeins", 6: "Six skeins"}
    marked = words.get(skeins, f"{skeins} skeins")
    return f"{marked} and the colour chart." if has_chart else f"{marked}, and no colour chart."


def _target_of(session: Session, run: Run | None) -> Lab | None:
    if run is None or run.colourway_id is None:
        return None
    try:
        return colourways.colourway(session, run.colourway_id).target_lab
    except NotFoundError:  # the colourway was taken off the shelf since
        return None


def photo_contents(session: Session, photo_ids: Sequence[UUID]) -> list[bytes]:
    """Return the bytes of photos as they came."""
    return [photos.photo_content(session, one) for one in photo_ids]


def judge_marked(contents: Sequence[bytes], marks: Marks) -> JudgeResult:
    """Return the verdict on kept photos with their marks: the long part, outside any transaction."""
    return judge(
        contents,
        chart=marks.chart,
        boxes=marks.shapes,
        target=marks.target,
        tolerance=marks.tolerance,
        is_older_chart=marks.is_older_chart,
    )


def with_ways_of(session: Session, photo_id: UUID, result: JudgeResult) -> JudgeResult:
    """Return a verdict whose ways out know the run's dyes and the studio's swatches: read before it is kept."""
    return with_studio_ways(session, photos.photo(session, photo_id).run_id, result)


def keep_verdict(
    session: Session,
    photo_id: UUID,
    result: JudgeResult,
    typed: Mapping[str, str],
    now: datetime,
    *,
    judgement_id: UUID | None = None,
) -> Judgement:
    """Keep a verdict with the form it was given from, and tell the run it belongs to, if any.

    `judgement_id` is a fresh one where none is given.
    """
    photo, judgement_id = photos.photo(session, photo_id), judgement_id or uuid4()
    plain_result: Any = plain(result)
    kept = photos.add_judgement(
        session,
        Judgement(
            id=judgement_id,
            run_id=photo.run_id,
            photo_id=photo_id,
            judged_at=now,
            result=plain_result,
            package_version=dyewright.__version__,
            marks=kept_marks(typed),
            more_photo_ids=more_photos(typed),
        ),
    )
    if photo.run_id is not None:
        detail = {"judgement_id": str(judgement_id), "photo_id": str(photo_id), "text": result.verdict}
        runs.append_event(session, Event(judgement_id, photo.run_id, EventKind.JUDGED, now, now, detail))
        keep_what_it_taught(session, photo.run_id, now=now)
    return kept
