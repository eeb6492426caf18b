"""The form that a photo is marked in: what it proposes, what was marked, how a kept verdict is marked again."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from dyewright.core.model import Judgement, Lab, Shape
from dyewright.errors import InputError
from dyewright.services.judging.chart_choice import ChartChoice, chart_from_text
from dyewright.services.judging.verdict import DEFAULT_TOLERANCE, shape_from_text
from dyewright.services.matching import colour_from_text

__all__ = [
    "CORNERS",
    "Marks",
    "corners_typed",
    "found_corners_text",
    "kept_marks",
    "marks_again",
    "more_photos",
    "outline_text",
    "read_marks",
    "skein_fields",
]

CORNERS = ("corner_1", "corner_2", "corner_3", "corner_4")
BETWEEN_CORNERS = ("corners", "grey", "paper")  # the choices that four corners belong to
ON_WHITE_PAPER = "ground"  # the choice that the whole ground is white paper
NOT_KEPT = frozenset({"then"})  # where the page leads on to is no mark
MOST_PHOTOS = 12  # of one lot, judged together: memory and patience; ours


@dataclass(frozen=True)
class Marks:
    """What was marked on the photos of one lot, read from the form."""

    chart: ChartChoice
    shapes: tuple[Shape, ...]
    target: Lab | None
    tolerance: float
    is_older_chart: bool


def read_marks(typed: Mapping[str, str]) -> Marks:
    """Return the marks of a form.

    Raises:
        InputError: an outline, a corner, the target or the tolerance cannot be read; `field` names which.
    """
    return Marks(
        chart=_chart(typed),
        shapes=tuple(_shape(typed[name], name) for name in skein_fields(typed) if typed[name].strip()),
        target=colour_from_text(typed["target"]).lab if typed.get("target", "").strip() else None,
        tolerance=_tolerance(typed.get("tolerance", "")),
        is_older_chart="is_older_chart" in typed,
    )


def skein_fields(typed: Mapping[str, str]) -> list[str]:
    """Return the names of the fields that hold outlines, in their order."""
    names = [name for name in typed if re.fullmatch(r"skein_[0-9]{1,6}", name)]
    return sorted(names, key=lambda name: int(name.removeprefix("skein_")))


def more_photos(typed: Mapping[str, str]) -> tuple[UUID, ...]:
    """Return the further photos of the lot that a form names.

    Raises:
        InputError: an identifier is none, or there are too many.
    """
    try:
        more = tuple(dict.fromkeys(UUID(one) for one in typed.get("more", "").split()))
    except ValueError:
        raise InputError(f"{typed['more']!r} names no photos", field="more", value=typed["more"]) from None
    if len(more) >= MOST_PHOTOS:
        raise InputError(
            f"{len(more) + 1} photos are asked to be judged together; {MOST_PHOTOS} is the most",
            field="more",
            value=len(more) + 1,
            limit=MOST_PHOTOS,
        )
    return more


def kept_marks(typed: Mapping[str, str]) -> dict[str, str]:
    """Return what of a form is kept with its verdict."""
    return {name: value for name, value in typed.items() if name not in NOT_KEPT and value.strip()}


def marks_again(judgement: Judgement) -> dict[str, str]:
    """Return the form that a kept verdict was given from, with the outlines and the chart that it found by itself."""
    result: Mapping[str, Any] = judgement.result
    typed = {"tolerance": f"{result.get('tolerance', DEFAULT_TOLERANCE):g}", "target": "", **judgement.marks}
    if not skein_fields(typed):
        for number, skein in enumerate(result.get("skeins", ()), start=1):
            typed[f"skein_{number}"] = outline_text(skein["outline"], skein.get("photo", 1))
    corners = result["chart"].get("corners")
    if typed.get("chart", "auto") == "auto":
        typed |= {"chart": "corners", **corners_typed(corners)} if corners else {"chart": "none"}
    return typed


def outline_text(outline: Sequence[Sequence[float]], photo: int = 1) -> str:
    """Return an outline as its field holds it: "x,y x,y …" in whole pixels, a box as "left, top, width, height"."""
    before = f"{photo}:" if photo > 1 else ""
    x, y = zip(*outline, strict=True)
    left, top, right, bottom = (round(side) for side in (min(x), min(y), max(x), max(y)))
    if [(round(px), round(py)) for px, py in outline] == [(left, top), (right, top), (right, bottom), (left, bottom)]:
        return f"{before}{left}, {top}, {right - left}, {bottom - top}"
    return before + " ".join(f"{px:.0f},{py:.0f}" for px, py in outline)


def corners_typed(corners: Sequence[Sequence[float]]) -> dict[str, str]:
    """Return the fields of the chart's four corners."""
    return {name: f"{x:.0f}, {y:.0f}" for name, (x, y) in zip(CORNERS, corners, strict=True)}


def found_corners_text(corners: str) -> str:
    """Return four typed corners, parted by ";", without spaces: as the form remembers where a chart was found."""
    return corners.replace(" ", "")


def _chart(typed: Mapping[str, str]) -> ChartChoice:
    choice = typed.get("chart", "auto")
    if choice == ON_WHITE_PAPER:
        return chart_from_text("paper")
    if choice not in BETWEEN_CORNERS:
        return chart_from_text(choice)
    between = " ".join(typed.get(name, "").replace(" ", "") for name in CORNERS)
    return chart_from_text(between if choice == "corners" else f"{choice}:{between}")


def _shape(text: str, name: str) -> Shape:
    try:
        return shape_from_text(text)
    except InputError as error:
        raise InputError(error.message, field=name, value=error.value, limit=error.limit) from error


def _tolerance(text: str) -> float:
    plain_text = text.strip().replace(",", ".") or f"{DEFAULT_TOLERANCE:g}"
    try:
        return float(plain_text)
    except ValueError:
        raise InputError(f"the tolerance {text!r} is no number; 1 is usual", field="tolerance", value=text) from None
