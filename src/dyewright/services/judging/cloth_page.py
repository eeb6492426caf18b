"""A verdict's skeins knitted up: what was chosen, the pictures, and what they show in words."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sqlalchemy.orm import Session

from dyewright.core.cloth import (
    ROW_TO_STITCH,
    Feeding,
    Knitting,
    Yarn,
    even_yarn,
    knitted,
    pattern,
    quietest_width,
    rewound,
    yarn_of_parts,
)
from dyewright.core.colour import display_rgb, lab_from_xyz, linear_from_srgb, xyz_from_lab
from dyewright.core.model import Judgement, UnevenKind, WayKind
from dyewright.errors import InputError, NotFoundError
from dyewright.photo.knit import cloth_png, hank_png, parts_png
from dyewright.records import photos, runs
from dyewright.services.judging.cloth_choice import USUAL, Choice, ClothWay, read_choice
from dyewright.services.judging.cloth_words import QUIET_DE00, cloth_notes, cloth_words
from dyewright.services.shown import daylight_white

__all__ = ["cloth_page", "cloth_picture", "even_picture", "way_preview"]

Floats = NDArray[np.float64]
Skein = Mapping[str, Any]

USUAL_TURN_M = 1.5  # common practice, no source
WAYS = (
    ("plain", "Knitted as they come"),
    ("alternate", "Alternated every two rows"),
    ("re-skein", "Wound anew, the first one"),
)
PICTURE_PX = 760  # a cloth is drawn about this wide
STITCH_PX = (6, 18)
CARD_STITCH_PX = 11
QUIETER_FRAC = 0.15  # a width near by is told of where it pools less by this much (estimate)


def cloth_page(session: Session, judgement_id: UUID, typed: Mapping[str, str]) -> dict[str, object]:
    """Return what the page of the cloth shows; `error` holds what of the choice cannot be read."""
    judgement = photos.judgement(session, judgement_id)
    skeins = _skeins(judgement)
    filled = _filled(typed, skeins)
    view: dict[str, object] = {
        "judgement": judgement,
        "run": None if judgement.run_id is None else runs.run(session, judgement.run_id),
        "skeins": skeins,
        "typed": filled,
        "chosen": filled["skeins"].replace(" ", ",").split(","),
        "ways": WAYS,
        "error": None,
        "pictures": [],
        "said": [],
        "quieter": None,
        "leans_on": [],
    }
    try:
        choice = read_choice(filled, skeins)
        yarns = [_yarn(skeins[number], choice.turn_m) for number in choice.skeins]
    except InputError as error:
        return view | {"error": error}
    return view | _shown(judgement, choice, yarns, filled)


def _skeins(judgement: Judgement) -> dict[int, Skein]:
    result: Mapping[str, Any] = judgement.result
    return {int(skein["id"]): skein for skein in result["skeins"]}


def _filled(typed: Mapping[str, str], skeins: Mapping[int, Skein]) -> dict[str, str]:
    """Return the form as it is shown: what was typed, and the usual where nothing was."""
    first = ",".join(str(number) for number in list(skeins)[:2])
    usual = USUAL | {"skeins": first} | ({"way": ClothWay.ALTERNATE.value} if len(skeins) > 1 else {})
    return usual | {name: value for name, value in typed.items() if name in usual and value.strip()}


def _yarn(skein: Skein, turn_m: float) -> Yarn:
    """Return a skein's yarn: its parts where they differ, its one colour where it is even or no map was kept."""
    if _is_one_colour(skein):
        return even_yarn(_xyz(skein["lab"]), turn_m)
    parts = skein["evenness"]["parts"]
    x_px, y_px = ([part[axis] for part in parts] for axis in ("x_px", "y_px"))
    return yarn_of_parts(x_px, y_px, _xyz([part["lab"] for part in parts]), turn_m)


def _is_one_colour(skein: Skein) -> bool:
    evenness = skein["evenness"]
    return len(evenness.get("parts") or ()) < 2 or evenness.get("kind", UnevenKind.EVEN) == UnevenKind.EVEN


def _xyz(lab: ArrayLike) -> Floats:
    return xyz_from_lab(lab, daylight_white())


def _linear(xyz: ArrayLike) -> Floats:
    """Return linear light for a screen, colours that it cannot show with less chroma."""
    codes, _ = display_rgb(lab_from_xyz(xyz, daylight_white()), daylight_white())
    return linear_from_srgb(codes)


def _shown(judgement: Judgement, choice: Choice, yarns: Sequence[Yarn], filled: dict[str, str]) -> dict[str, object]:
    skeins = _skeins(judgement)
    return {
        "pictures": [{"title": title, "query": urlencode(filled | {"side": side})} for side, title in _sides(choice)],
        "said": cloth_words(choice, yarns),
        "quieter": _quieter(choice, yarns, filled),
        "leans_on": cloth_notes(choice, [number for number in choice.skeins if _is_one_colour(skeins[number])]),
    }


def _sides(choice: Choice) -> list[tuple[str, str]]:
    several = len(choice.skeins) > 1
    if choice.way is ClothWay.ALTERNATE:
        before = "One skein after the other" if several else "As the skein comes"
        return [
            ("before", before),
            ("after", "Alternated every two rows" if several else "From both ends, two rows each"),
        ]
    if choice.way is ClothWay.RESKEIN:
        return [("before", "The skein as it is"), ("after", "Wound anew")]
    return [("before", "One skein after the other" if several else "As the skein comes")]


def _quieter(choice: Choice, yarns: Sequence[Yarn], filled: dict[str, str]) -> dict[str, str] | None:
    """Return a width near the chosen one at which colours pool less, with the address of its page; None where none."""
    if choice.way is ClothWay.RESKEIN:
        return None
    now = pattern(knitted(yarns, choice.knitting), daylight_white())
    stitches, then = quietest_width(yarns, choice.knitting, daylight_white())
    if now.spread_de00 < QUIET_DE00 or now.pooled_frac - then.pooled_frac < QUIETER_FRAC:
        return None
    return {
        "words": f"{stitches} stitches pool least near this width: {100 * then.pooled_frac:.0f} % instead of "
        f"{100 * now.pooled_frac:.0f} %.",
        "query": urlencode(filled | {"stitches": str(stitches)}),
        "title": f"Try {stitches} stitches",
    }


def cloth_picture(session: Session, judgement_id: UUID, typed: Mapping[str, str]) -> bytes:
    """Return one picture of the page as PNG; `side` says whether before or after.

    Raises:
        InputError: the choice cannot be read.
    """
    skeins = _skeins(photos.judgement(session, judgement_id))
    choice = read_choice(_filled(typed, skeins), skeins)
    yarns = [_yarn(skeins[number], choice.turn_m) for number in choice.skeins]
    is_after = typed.get("side") == "after"
    if choice.way is ClothWay.RESKEIN:
        return hank_png(_linear((rewound(yarns[0]) if is_after else yarns[0]).front_xyz))
    feeding = Feeding.ALTERNATE if is_after else Feeding.ONE_AFTER_OTHER
    low, high = STITCH_PX
    stitch_px = int(np.clip(PICTURE_PX // choice.knitting.stitches, low, high))
    return _cloth_png(yarns, replace(choice.knitting, feeding=feeding), stitch_px)


def _cloth_png(yarns: Sequence[Yarn], knitting: Knitting, stitch_px: int) -> bytes:
    return cloth_png(_linear(knitted(yarns, knitting)), stitch_px=stitch_px, row_frac=ROW_TO_STITCH)


def even_picture(session: Session, judgement_id: UUID, skein_id: int, stretch: float = 1.0) -> bytes:
    """Return a skein's map as PNG: its parts in their own colours, differences drawn `stretch` times as strong.

    Raises:
        NotFoundError: the verdict has no such skein, or it keeps no map.
    """
    skein = _skeins(photos.judgement(session, judgement_id)).get(skein_id)
    parts = (skein or {"evenness": {}})["evenness"].get("parts")
    if skein is None or not parts:
        raise NotFoundError(f"skein {skein_id} of this verdict has no map of its parts: judge the photo again")
    labs = np.array([part["lab"] for part in parts], float)
    middle = np.median(labs, axis=0)
    shown = np.clip(middle + stretch * (labs - middle), (0, -150, -150), (100, 150, 150))
    x_px, y_px = ([part[axis] for part in parts] for axis in ("x_px", "y_px"))
    outline = [(float(x), float(y)) for x, y in skein["outline"]]
    return parts_png(x_px, y_px, _linear(_xyz(shown)), outline)


def way_preview(
    session: Session, judgement_id: UUID, way_number: int, *, width_px: int = 480, height_px: int = 160
) -> bytes:
    """Return a small picture of what one of the ways of a verdict gives, counted from 1, as PNG.

    Raises:
        NotFoundError: the verdict has no such way.
    """
    judgement = photos.judgement(session, judgement_id)
    result: Mapping[str, Any] = judgement.result
    ways = result.get("ways") or ()
    if not 1 <= way_number <= len(ways):
        raise NotFoundError(f"this verdict has no way {way_number}; it has {len(ways)}")
    way, skeins = ways[way_number - 1], _skeins(judgement)
    yarns = [_yarn(skeins[number], USUAL_TURN_M) for number in way["skeins"] if number in skeins]
    beside = [_yarn(skeins[number], USUAL_TURN_M) for number in way["beside"] if number in skeins]
    if way["kind"] == WayKind.RESKEIN:
        return hank_png(_linear(rewound(yarns[0]).front_xyz), width_px=width_px, height_px=height_px)
    knitting = Knitting(width_px // CARD_STITCH_PX, round(height_px / (CARD_STITCH_PX * ROW_TO_STITCH)), 22)
    return _cloth_png(*_previewed(way["kind"], yarns, beside, knitting), CARD_STITCH_PX)


def _previewed(kind: str, yarns: list[Yarn], beside: list[Yarn], knitting: Knitting) -> tuple[list[Yarn], Knitting]:
    """Return what a card shows knitted: two skeins alternated, a skein as it would be, or the skeins as they are."""
    if kind == WayKind.ALTERNATE:
        return [*yarns, *beside][:2], replace(knitting, feeding=Feeding.ALTERNATE)
    if kind == WayKind.TOP_UP and beside:
        return [even_yarn(_mean_xyz(beside), USUAL_TURN_M)], knitting
    if kind == WayKind.REHEAT:
        return [even_yarn(_mean_xyz(yarns), USUAL_TURN_M)], knitting
    return yarns, knitting


def _mean_xyz(yarns: Sequence[Yarn]) -> Floats:
    return np.asarray(np.mean([yarn.front_xyz.mean(axis=(0, 1)) for yarn in yarns], axis=0))
