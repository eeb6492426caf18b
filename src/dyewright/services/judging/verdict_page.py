"""The page of a verdict: the answer, the photos it is from, what to do now, and how far to trust it.

A verdict is read as it was kept: what an earlier version did not compute yet is left out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Basis, ChartKind, Judgement, Lot, Photo, UnevenKind
from dyewright.errors import InputError, NotFoundError
from dyewright.photo.draw import drawn
from dyewright.photo.load import load_photo
from dyewright.records import evenings, experiments, lots, photos, runs
from dyewright.services.judging.earlier import earlier_lots
from dyewright.services.judging.marks import CORNERS, found_corners_text
from dyewright.services.judging.orders import shared_out_of
from dyewright.services.judging.studio_ways import top_up_query
from dyewright.services.judging.wet import GuessedDry, guessed_dry
from dyewright.services.plain import plain

__all__ = ["SeenPhoto", "SkeinLine", "overlay_png", "verdict_page"]

Plain = Mapping[str, Any]
YARN_TIMES = 2  # by how much yarn is read worse than the chart's left-out patches, in round words; see the science page


@dataclass(frozen=True)
class SeenPhoto:
    """One photo of a verdict with its outlines, as an SVG's points, and where each skein's number stands, per cent."""

    number: int
    photo: Photo
    skeins: tuple[tuple[int, str, float, float], ...]
    charts: tuple[str, ...]


@dataclass(frozen=True)
class SkeinLine:
    """One skein in words; `half` is half its interval to the target, `map_of` its number where its map was kept."""

    id: int
    hex: str
    colour_words: str
    colour: str
    to_target: Plain | None
    half: float | None
    even: str
    even_words: str
    map_of: int | None
    left_out: str
    warnings: tuple[str, ...]


def verdict_page(session: Session, judgement_id: UUID, orders: str = "") -> dict[str, object]:
    """Return what the page of a verdict shows.

    `orders` says how many skeins each order needs, as typed; `error` in the view is what is wrong with it.
    """
    judgement = photos.judgement(session, judgement_id)
    result: Plain = judgement.result
    half = _usual_half(result["pairs"])
    shared, error = _shared_out(session, judgement_id, orders)
    return {
        "judgement": judgement,
        "run": None if judgement.run_id is None else runs.run(session, judgement.run_id),
        "lot": _lot(session, judgement),
        "photo": photos.photo(session, judgement.photo_id),
        "seen": _seen_photos(session, judgement),
        "result": result,
        "skeins": [_skein_line(skein) for skein in result["skeins"]],
        "pairs": [pair | {"match": _match(pair), "grey": pair.get("grey_scale", "")} for pair in result["pairs"]],
        "ways": [_way(session, judgement_id, number, way) for number, way in enumerate(result.get("ways") or (), 1)],
        "also": _beside_ways(result),
        "earlier": earlier_lots(session, judgement_id),
        "sets": [_set(group, result["pairs"]) for group in result["sets"]],
        "half_width": half,
        "trust": _trust(judgement, half),
        "charts": _charts(result),
        "is_damp": judgement.marks.get("yarn") == "damp",
        "dry_guesses": _dry_guesses(session, judgement),
        "question": _question(len(result["skeins"])),
        "evenings": [one for one in evenings.evenings(session) if one.judgement_id is None],
        "experiments": [one for one in experiments.experiments(session) if one.judgement_id is None],
        "orders": orders,
        "shared": shared or result.get("assignment"),
        "error": error,
    }


def _lot(session: Session, judgement: Judgement) -> Lot | None:
    """Return the lot that was kept from this verdict."""
    kept = [] if judgement.run_id is None else lots.lots_of_run(session, judgement.run_id)
    return next((lot for lot in kept if lot.judgement_id == judgement.id), None)


def _way(session: Session, judgement_id: UUID, number: int, way: Plain) -> Plain:
    """Return a way with its number, and where its top-up can be planned."""
    return {**way, "number": number, "plan": top_up_query(session, judgement_id, number)}


def _beside_ways(result: Plain) -> list[str]:
    """Return the advice that is no way of its own: what is still open, why heat does not help, the target."""
    told = tuple(way["sentence"] for way in result.get("ways") or ())
    return [sentence for sentence in result["advice"] if not sentence.endswith(told)]


def _dry_guesses(session: Session, judgement: Judgement) -> list[tuple[int, GuessedDry]]:
    """Return what skeins that were judged damp may look like dry; none where their colours are the camera's own."""
    result: Plain = judgement.result
    if judgement.marks.get("yarn") != "damp" or result["basis"] == Basis.RELATIVE:
        return []
    base_id = None if judgement.run_id is None else runs.run(session, judgement.run_id).base_id
    told = [(skein["id"], guessed_dry(session, base_id, tuple(skein["lab"]))) for skein in result["skeins"]]
    return [(number, guess) for number, guess in told if guess is not None]


def _shared_out(session: Session, judgement_id: UUID, orders: str) -> tuple[object, InputError | None]:
    """Return which skeins go to which order as plain values, None where no orders are typed; or what is wrong."""
    if not orders.strip():
        return None, None
    try:
        return plain(shared_out_of(session, judgement_id, orders)), None
    except InputError as error:
        return None, error


def _seen_photos(session: Session, judgement: Judgement) -> list[SeenPhoto]:
    of = (judgement.photo_id, *judgement.more_photo_ids)
    return [
        _seen(number, photos.photo(session, photo_id), judgement.result) for number, photo_id in enumerate(of, start=1)
    ]


def _seen(number: int, photo: Photo, result: Plain) -> SeenPhoto:
    skeins = []
    for skein in _on(result["skeins"], number):
        x, y = zip(*skein["outline"], strict=True)
        middle, top = 50 * (min(x) + max(x)) / photo.width_px, 100 * min(y) / photo.height_px
        skeins.append((skein["id"], _points(skein["outline"]), middle, top))
    charts = [_points(one["corners"]) for one in _on(_charts(result), number) if one.get("corners")]
    return SeenPhoto(number, photo, tuple(skeins), tuple(charts))


def _on(things: Sequence[Plain], number: int) -> list[Plain]:
    return [one for one in things if one.get("photo", 1) == number]


def _charts(result: Plain) -> list[Plain]:
    return list(result.get("charts") or [result["chart"]])


def _points(outline: Sequence[Sequence[float]]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in outline)


def _skein_line(skein: Plain) -> SkeinLine:
    target, evenness = skein.get("to_target"), skein["evenness"]
    return SkeinLine(
        id=skein["id"],
        hex=skein["hex"],
        colour_words=skein["colour_words"],
        colour=_colour(skein),
        to_target=target,
        half=None if target is None else (target["high"] - target["low"]) / 2,
        even=_even(evenness),
        even_words=evenness.get("words", ""),
        map_of=skein["id"] if evenness.get("parts") else None,
        left_out=_left_out(skein),
        warnings=tuple(skein.get("warnings", ())),
    )


def _colour(skein: Plain) -> str:
    """Return L*, a* and b* with half their interval, where one is known."""
    low, high = skein.get("lab_low"), skein.get("lab_high")
    names = ("L*", "a*", "b*")
    if not low or not high:
        return ", ".join(f"{name} {value:.1f}" for name, value in zip(names, skein["lab"], strict=True))
    halves = [(top - bottom) / 2 for bottom, top in zip(low, high, strict=True)]
    told = zip(names, skein["lab"], halves, strict=True)
    return ", ".join(f"{name} {value:.1f} ± {half:.1f}" for name, value, half in told)


def _even(evenness: Plain) -> str:
    kind = evenness.get("kind", UnevenKind.EVEN)
    if kind == UnevenKind.EVEN:
        return str(evenness["rating"])
    return f"{kind}, {evenness['de00_p95']:.1f}"


def _left_out(skein: Plain) -> str:
    reasons = (("shadow_frac", "shadow"), ("glint_frac", "glare"), ("clipped_frac", "washed out"))
    shares = [(skein.get("left_out", {}).get(name, 0.0), words) for name, words in reasons]
    told = [f"{words} {100 * share:.0f} %" for share, words in shares if share >= 0.005]
    return ", ".join(told)


def _match(pair: Plain) -> str:
    if "is_within" not in pair:
        return ""
    return {True: "match", False: "differ", None: "cannot tell"}[pair["is_within"]]


def _trust(judgement: Judgement, half: float | None) -> list[tuple[str, str]]:
    """Return what the verdict leans on, as pairs of what and how good."""
    result: Plain = judgement.result
    chart, uneven = result["chart"], result.get("light_uneven_frac")
    told = [("Chart", _how_found(judgement))]
    if chart.get("left_out_de00_median") is not None:
        error = chart["left_out_de00_median"]
        told.append(("Its patches, each told from the others, miss by", f"{error:.1f} ΔE00"))
        told.append(("Yarn is read about twice as roughly: a colour is sure to", f"± {YARN_TIMES * error:.1f} ΔE00"))
    if half is not None:
        told.append(("A difference between skeins is sure to about", f"± {half:.1f} ΔE00"))
    told.append(("Light across the ground", _fall(uneven)))
    if chart.get("light"):
        told.append(("Light source", chart["light"]))
    if result["skeins"]:
        shares = [skein.get("left_out_frac", 0.0) for skein in result["skeins"]]
        told.append(("Left out of the skeins (strands in shade, glare)", f"{100 * sum(shares) / len(shares):.0f} %"))
    return told


def _fall(uneven_frac: float | None) -> str:
    if uneven_frac is None:
        return "not known"
    return "even" if uneven_frac < 0.005 else f"uneven {100 * uneven_frac:.0f} %, taken out"


def _how_found(judgement: Judgement) -> str:
    result: Plain = judgement.result
    chart, marks = result["chart"], judgement.marks
    if not chart["found"]:
        return "none"
    kind = chart.get("kind", ChartKind.PATCHES)
    if kind in {ChartKind.GREY_CARD, ChartKind.WHITE_PAPER}:
        return f"none; {kind} instead"
    corners = ";".join(marks.get(name, "") for name in CORNERS)
    is_by_itself = marks.get("chart", "auto") == "auto" or marks.get("chart_found") == found_corners_text(corners)
    return "24 patches, found by itself" if is_by_itself else "24 patches, its corners marked"


def _set(group: list[int], pairs: list[Plain]) -> Plain:
    """Return a set with its largest difference, and whether the photo leaves any of its pairs open."""
    inside = [pair for pair in pairs if pair["a"] in group and pair["b"] in group]
    is_open = any(pair.get("is_within", True) is None for pair in inside)
    return {"ids": group, "largest": max(inside, key=lambda pair: pair["de00"], default=None), "is_open": is_open}


def _usual_half(pairs: list[Plain]) -> float | None:
    """Return half the middle one among the intervals of differences; each pair's own stands in the list of pairs."""
    return median((pair["high"] - pair["low"]) / 2 for pair in pairs) if pairs else None


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
    result: Plain = judgement.result
    skeins = [(str(skein["id"]), _outline(skein["outline"])) for skein in _on(result["skeins"], number)]
    charts = [_outline(one["corners"]) for one in _on(_charts(result), number) if one.get("corners")]
    return drawn(load_photo(photos.photo_content(session, of[number - 1])), skeins, charts)


def _outline(points: list[list[float]]) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
