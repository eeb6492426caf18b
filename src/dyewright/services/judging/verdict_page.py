"""The page of a verdict: the answer, the photos it is from, what to do now, and how far to trust it."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.errors import NotFoundError
from dyewright.photo.draw import drawn
from dyewright.photo.load import load_photo
from dyewright.records import evenings, experiments, photos, runs

__all__ = ["overlay_png", "verdict_page"]


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


def overlay_png(session: Session, judgement_id: UUID, number: int = 1) -> bytes:
    """Return the `number`-th photo of a verdict with outlines and numbers.

    Raises:
        NotFoundError: the verdict is on fewer photos.
    """
    judgement = photos.judgement(session, judgement_id)
    of = (judgement.photo_id, *judgement.more_photo_ids)
    if not 1 <= number <= len(of):
        raise NotFoundError(f"this verdict is on {len(of)} photos; there is no photo {number}")
    result: Mapping[str, Any] = judgement.result
    charts = [one for one in result.get("charts") or [result["chart"]] if one.get("photo", 1) == number]
    skeins = [
        (str(skein["id"]), _outline(skein["outline"])) for skein in result["skeins"] if skein.get("photo", 1) == number
    ]
    loaded = load_photo(photos.photo_content(session, of[number - 1]))
    return drawn(loaded, skeins, [_outline(one["corners"]) for one in charts if one.get("corners")])


def _outline(points: list[list[float]]) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
