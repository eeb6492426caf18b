"""The pages of judging: a photo taken in, marked, judged and kept with its verdict."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy.orm import Session

import dyewright
from dyewright.core.model import Event, EventKind, Judgement, JudgeResult, Lab, Photo, Run, Shape
from dyewright.errors import InputError, NotFoundError
from dyewright.photo.chart import find_charts
from dyewright.photo.draw import drawn
from dyewright.photo.load import load_photo
from dyewright.photo.outlines import find_shapes
from dyewright.records import colourways, evenings, experiments, photos, runs, shelf
from dyewright.services.judging.verdict import DEFAULT_TOLERANCE, ChartChoice, box_from_text, chart_from_text, judge
from dyewright.services.learning.keeping import keep_what_it_taught
from dyewright.services.matching import colour_from_text
from dyewright.services.plain import plain

__all__ = ["Marks", "judge_marked", "keep_verdict", "marking_page", "overlay_png", "read_marks", "verdict_page"]

CORNERS = ("corner_1", "corner_2", "corner_3", "corner_4")
SPARE_ROWS = 2  # empty fields for further skeins, for a page without script


@dataclass(frozen=True)
class Marks:
    """What was marked on a photo, read from its form."""

    chart: ChartChoice
    boxes: tuple[Shape, ...]
    target: Lab | None
    tolerance: float
    is_older_chart: bool


def marking_page(session: Session, photo_id: UUID, typed: Mapping[str, str] | None = None) -> dict[str, object]:
    """Return what the page for marking shows: the photo, and boxes and corners as typed, or as found."""
    photo = photos.photo(session, photo_id)
    run = None if photo.run_id is None else runs.run(session, photo.run_id)
    shown = dict(typed) if typed is not None else _suggested(session, photo, run)
    boxes = [shown[name] for name in _box_names(shown) if shown[name].strip()]
    return {
        "photo": photo,
        "run": run,
        "typed": shown,
        "boxes": boxes + [""] * SPARE_ROWS,
        "corner_names": CORNERS,
    }


def _suggested(session: Session, photo: Photo, run: Run | None) -> dict[str, str]:
    """Return the form as it is proposed: the chart and the skeins that were found."""
    loaded = load_photo(photos.photo_content(session, photo.id))
    found = find_charts(loaded)
    corners = found[0] if found else None
    settings = shelf.studio_settings(session)
    tolerance = settings.tolerance_de00 if settings else DEFAULT_TOLERANCE
    typed = {"chart": "corners" if found else "none", "tolerance": f"{tolerance:g}", "target": ""}
    if corners is not None:
        typed |= {name: f"{x:.0f}, {y:.0f}" for name, (x, y) in zip(CORNERS, corners, strict=True)}
    for number, box in enumerate(find_shapes(loaded, corners), start=1):
        left, top, right, bottom = box.sides
        typed[f"skein_{number}"] = f"{left:.0f}, {top:.0f}, {right - left:.0f}, {bottom - top:.0f}"
    target = _target_of(session, run)
    if target is not None:
        typed["target"] = "lab " + " ".join(f"{value:.1f}" for value in target)
    return typed


def _target_of(session: Session, run: Run | None) -> Lab | None:
    if run is None or run.colourway_id is None:
        return None
    try:
        return colourways.colourway(session, run.colourway_id).target_lab
    except NotFoundError:  # the colourway was taken off the shelf since
        return None


def _box_names(typed: Mapping[str, str]) -> list[str]:
    names = [name for name in typed if name.startswith("skein_") and name.removeprefix("skein_").isdigit()]
    return sorted(names, key=lambda name: int(name.removeprefix("skein_")))


def read_marks(typed: Mapping[str, str]) -> Marks:
    """Return the marks of a form.

    Raises:
        InputError: a box, a corner, the target or the tolerance cannot be read; `field` names which.
    """
    return Marks(
        chart=_chart(typed),
        boxes=tuple(_box(typed[name], name) for name in _box_names(typed) if typed[name].strip()),
        target=colour_from_text(typed["target"]).lab if typed.get("target", "").strip() else None,
        tolerance=_tolerance(typed.get("tolerance", "")),
        is_older_chart="is_older_chart" in typed,
    )


def _chart(typed: Mapping[str, str]) -> ChartChoice:
    choice = typed.get("chart", "auto")
    if choice != "corners":
        return chart_from_text(choice)
    return chart_from_text(" ".join(typed.get(name, "").replace(" ", "") for name in CORNERS))


def _box(text: str, name: str) -> Shape:
    try:
        return box_from_text(text)
    except InputError as error:
        raise InputError(error.message, field=name, value=error.value, limit=error.limit) from error


def _tolerance(text: str) -> float:
    plain_text = text.strip().replace(",", ".") or f"{DEFAULT_TOLERANCE:g}"
    try:
        return float(plain_text)
    except ValueError:
        raise InputError(f"the tolerance {text!r} is no number; 1 is usual", field="tolerance", value=text) from None


def judge_marked(content: bytes, marks: Marks) -> JudgeResult:
    """Return the verdict on a kept photo with its marks: the long part, outside any transaction."""
    return judge(
        [content],
        chart=marks.chart,
        boxes=marks.boxes,
        target=marks.target,
        tolerance=marks.tolerance,
        is_older_chart=marks.is_older_chart,
    )


def keep_verdict(session: Session, photo_id: UUID, result: JudgeResult, now: datetime) -> Judgement:
    """Keep a verdict on a photo, and tell the run it belongs to, if any."""
    photo, judgement_id = photos.photo(session, photo_id), uuid4()
    plain_result: Any = plain(result)
    kept = photos.add_judgement(
        session,
        Judgement(judgement_id, photo.run_id, photo_id, now, plain_result, dyewright.__version__),
    )
    if photo.run_id is not None:
        detail = {"judgement_id": str(judgement_id), "photo_id": str(photo_id), "text": result.verdict}
        runs.append_event(session, Event(judgement_id, photo.run_id, EventKind.JUDGED, now, now, detail))
        keep_what_it_taught(session, photo.run_id, now=now)
    return kept


def verdict_page(session: Session, judgement_id: UUID) -> dict[str, object]:
    """Return what the page of a verdict shows."""
    judgement = photos.judgement(session, judgement_id)
    result: Mapping[str, Any] = judgement.result
    return {
        "judgement": judgement,
        "run": None if judgement.run_id is None else runs.run(session, judgement.run_id),
        "photo": photos.photo(session, judgement.photo_id),
        "result": result,
        "sets": [{"ids": group, "largest": _largest_inside(group, result["pairs"])} for group in result["sets"]],
        "half_width": _widest_half(result["pairs"]),
        "question": _question(len(result["skeins"])),
        "evenings": [one for one in evenings.evenings(session) if one.judgement_id is None],
        "experiments": [one for one in experiments.experiments(session) if one.judgement_id is None],
    }


def _largest_inside(group: list[int], pairs: list[Mapping[str, Any]]) -> float | None:
    inside = [pair["de00"] for pair in pairs if pair["a"] in group and pair["b"] in group]
    return max(inside, default=None)


def _widest_half(pairs: list[Mapping[str, Any]]) -> float | None:
    """Return the largest half-width among the intervals of differences."""
    return max((pair["high"] - pair["de00"] for pair in pairs), default=None)


def _question(skeins: int) -> str:
    words = {0: "What is on this photo?", 1: "How did this skein come out?", 2: "Do these two match?"}
    numbers = {3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight", 9: "nine"}
    return words.get(skeins, f"Do these {numbers.get(skeins, skeins)} match?")


def overlay_png(session: Session, judgement_id: UUID) -> bytes:
    """Return the photo of a verdict with outlines and numbers."""
    judgement = photos.judgement(session, judgement_id)
    result: Mapping[str, Any] = judgement.result
    chart = result["chart"]["corners"]
    skeins = [(str(skein["id"]), _outline(skein["outline"])) for skein in result["skeins"]]
    loaded = load_photo(photos.photo_content(session, judgement.photo_id))
    return drawn(loaded, skeins, [_outline(chart)] if chart else [])


def _outline(points: list[list[float]]) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
