"""A picture for the shop: a judged photo in the colours that were measured, neutral, evenly lit, for any screen."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.colour import (
    Fitted,
    bradford_matrix,
    delta_e00,
    lab_from_xyz,
    srgb_from_linear,
    srgb_white,
    srgb_xyz_matrix,
)
from dyewright.core.model import Basis, ChartKind, Judgement, Shape
from dyewright.core.skeins import inside_outline, straightened
from dyewright.errors import InputError
from dyewright.photo.load import LoadedPhoto, load_photo
from dyewright.photo.render import Cut, cut_out, jpeg_of, round_crop, shown
from dyewright.records import photos
from dyewright.services.judging._chart import reference_of
from dyewright.services.judging._ground import ground_places
from dyewright.services.judging._photo import Request, Seen, see_photo
from dyewright.services.judging.chart_choice import ChartChoice
from dyewright.services.judging.marks import marks_again, read_marks

__all__ = [
    "SIZES_PX",
    "ShopPicture",
    "ShopWish",
    "Sitting",
    "as_taken",
    "seen_again",
    "shop_page",
    "shop_picture",
    "sitting",
    "wish",
]

Floats = NDArray[np.float64]

SIZES_PX = (1200, 2048)
"""Longest side of the picture: a page of a shop, and one that can be looked into (common practice, no source)."""
PREVIEW_PX = 900
PAPER_LINEAR = 0.86  # of full light: how a white paper is shown where it alone is the measure, L* 94 (estimate)
MOST_PAPER_LINEAR = 0.96  # a ground that would show brighter than this looks washed out: the exposure is taken back
TINTED_CHROMA = 14.0  # of C*ab in the camera's own rendering: paper under a warm lamp stays below, cloth not (estimate)
DARK_PAPER_LINEAR = 0.15  # of full light in the camera's own rendering: below, the ground is no white paper (estimate)
YARN_TIMES = 2.0  # yarn misses by about twice what the chart's left-out patches do (docs/science/judging.md)
TOLD_FRAC = 0.005  # of a skein's pixels: fewer outside the screen's range are not worth a word
KNOTS = 25  # along a side, between which the fall of light is straight to 0.1 %
LOOKED_AT = 20_000  # pixels of a skein are enough to tell what the screen's range costs


@dataclass(frozen=True)
class ShopWish:
    """How the picture is wanted: what of the photo ("skeins", "photo" or one skein's number), how large, how cut."""

    part: str = "skeins"
    longest_px: int = SIZES_PX[0]
    is_square: bool = False
    photo: int = 1


@dataclass(frozen=True)
class Sitting:
    """A verdict with the bytes of one of its photos: what a picture is made from, outside any transaction."""

    judgement: Judgement
    content: bytes
    photo: int


@dataclass(frozen=True)
class ShopPicture:
    """The picture as JPEG, what was done to it, and what of it a screen cannot show."""

    jpeg: bytes
    width_px: int
    height_px: int
    done: tuple[str, ...]
    outside: tuple[str, ...]


@dataclass(frozen=True)
class _Rendering:
    """How stored light becomes linear sRGB: by the photo's calibration, then a gain a channel; and words for it."""

    seen: Seen
    gains: Floats
    words: tuple[str, ...]

    def light(self, rgb: Floats, x_px: Floats, y_px: Floats) -> Floats:
        """Return linear sRGB of stored light, with the tone curve and the fall of light taken out."""
        scene = self.seen.scene
        even = straightened(scene.calibration.tone, rgb) / self._fall(x_px, y_px)
        xyz = scene.calibration.xyz_of_light(even)
        return np.asarray(xyz @ _to_screen(scene.calibration.white).T * self.gains, float)

    def _fall(self, x_px: Floats, y_px: Floats) -> Floats:
        """Return the light at places; on a grid, straight between knots, as it has no edges and pixels are many."""
        if x_px.ndim == 1:
            return self.seen.scene.light(x_px, y_px)
        (x_knots, x_share), (y_knots, y_share) = _between_knots(x_px[0]), _between_knots(y_px[:, 0])
        at_knots = self.seen.scene.light(x_knots[None, :], y_knots[:, None])
        return np.moveaxis(y_share @ np.moveaxis(at_knots, -1, 0) @ x_share.T, 0, -1)


def wish(typed: Mapping[str, str]) -> ShopWish:
    """Return how the picture is wanted, from the page's form.

    Raises:
        InputError: a size, a part or a photo that is not offered.
    """
    size, photo, part = typed.get("size", str(SIZES_PX[0])), typed.get("photo", "1"), typed.get("part", "skeins")
    if size not in {str(offered) for offered in SIZES_PX}:
        offered = " or ".join(map(str, SIZES_PX))
        raise InputError(f"the picture comes {offered} pixels long, not {size}", field="size", value=size)
    if not photo.isdecimal() or not 1 <= int(photo) <= 99:
        raise InputError(f"{photo!r} is no photo of this verdict; the first is 1", field="photo", value=photo)
    if part not in {"skeins", "photo"} and not part.isdecimal():
        raise InputError(
            f"{part!r} is no part of the photo: choose the skeins, the whole photo, or one skein's number",
            field="part",
            value=part,
        )
    return ShopWish(part, int(size), "square" in typed, int(photo))


def sitting(session: Session, judgement_id: UUID, photo: int) -> Sitting:
    """Return a verdict with the bytes of its `photo`-th photo.

    Raises:
        NotFoundError: no such verdict.
        InputError: it has fewer photos.
    """
    judgement = photos.judgement(session, judgement_id)
    kept = (judgement.photo_id, *judgement.more_photo_ids)
    if photo > len(kept):
        raise InputError(
            f"photo {photo} is asked for, the verdict has {len(kept)}", field="photo", value=photo, limit=len(kept)
        )
    return Sitting(judgement, photos.photo_content(session, kept[photo - 1]), photo)


def shop_page(at: Sitting, wanted: ShopWish) -> dict[str, object]:
    """Return what the page of a shop's picture shows; where none can be made, `refusal` says why."""
    skeins = _skeins_of(at)
    view = {
        "judgement": at.judgement,
        "wanted": wanted,
        "sizes": SIZES_PX,
        "skeins": [skein["id"] for skein in skeins],
        "photos": 1 + len(at.judgement.more_photo_ids),
        "refusal": None,
        "picture": None,
    }
    try:
        view["picture"] = shop_picture(at, ShopWish(wanted.part, PREVIEW_PX, wanted.is_square, wanted.photo))
    except InputError as error:
        view["refusal"] = error
    return view


def shop_picture(at: Sitting, wanted: ShopWish) -> ShopPicture:
    """Return the picture for the shop.

    Raises:
        InputError: without a chart, the ground is no white paper to take as neutral; or no such skein.
    """
    seen = seen_again(at)
    rendering = _rendering(at, seen)
    cut = _cut(at, seen.scene.photo, wanted)
    fitted = shown(cut, rendering.light)
    rows, columns = fitted.linear.shape[:2]
    return ShopPicture(
        jpeg=jpeg_of(fitted.linear),
        width_px=columns,
        height_px=rows,
        done=rendering.words,
        outside=_outside(at, cut, rendering, fitted),
    )


def as_taken(at: Sitting, wanted: ShopWish) -> bytes:
    """Return the same part of the photo as the camera rendered it, to be seen beside the picture."""
    photo = load_photo(at.content)
    cut = _cut(at, photo, wanted)
    bright = float(np.percentile(cut.rgb, 99.5)) if photo.is_linear_file else 1.0
    return jpeg_of(np.clip(cut.rgb / max(bright, 1e-6), 0, 1))


def _between_knots(places_px: Floats) -> tuple[Floats, Floats]:
    """Return knots along places, and the share that each knot has in each place, shape (places, knots)."""
    knots = np.linspace(places_px[0], places_px[-1], min(KNOTS, len(places_px)))
    if len(knots) == 1:
        return knots, np.ones((1, 1))
    apart = np.abs(places_px[:, None] - knots) / (knots[1] - knots[0])
    return knots, np.maximum(0.0, 1.0 - apart)


def _skeins_of(at: Sitting) -> list[Mapping[str, Any]]:
    result: Mapping[str, Any] = at.judgement.result
    return [skein for skein in result.get("skeins", ()) if skein.get("photo", 1) == at.photo]


def seen_again(at: Sitting) -> Seen:
    """Return the photo with the chart, the outlines and the light that its verdict was read with."""
    marks = read_marks(marks_again(at.judgement))
    result: Mapping[str, Any] = at.judgement.result
    chart: ChartChoice = marks.chart
    if at.photo > 1:
        corners = next((one["corners"] for one in result.get("charts", ()) if one.get("photo") == at.photo), None)
        chart = "none" if corners is None else tuple((float(x), float(y)) for x, y in corners)
    shapes = tuple(Shape(tuple((x, y) for x, y in skein["outline"]), at.photo) for skein in _skeins_of(at))
    request = Request(source=at.content, number=at.photo, name=None, chart=chart, boxes=shapes)
    return see_photo(request, reference_of(None, is_older_chart=marks.is_older_chart))


def _cut(at: Sitting, photo: LoadedPhoto, wanted: ShopWish) -> Cut:
    skeins = _skeins_of(at)
    if wanted.part.isdecimal():
        skeins = [skein for skein in skeins if str(skein["id"]) == wanted.part]
        if not skeins:
            raise InputError(f"photo {at.photo} has no skein {wanted.part}", field="part", value=wanted.part)
    sides = [] if wanted.part == "photo" else [Shape(tuple(skein["outline"])).sides for skein in skeins]
    return cut_out(photo, round_crop(photo, sides, is_square=wanted.is_square), wanted.longest_px)


def _rendering(at: Sitting, seen: Seen) -> _Rendering:
    """Return how the photo is to be rendered: by its chart, else by its paper."""
    paper = _paper(seen)
    even = () if seen.scene.field is None else ("The fall of light across the photo is taken out.",)
    if at.judgement.result.get("basis") == Basis.RELATIVE:
        return _by_paper(seen, paper, even)
    by = _measured_by(at)
    if paper is None:
        return _Rendering(seen, np.ones(3), (by, *even))
    ground = _screen_light(seen, paper)
    exposure = min(1.0, MOST_PAPER_LINEAR / float(ground.max()))
    codes = " ".join(f"{255 * value:.0f}" for value in srgb_from_linear(exposure * ground))
    words = f"The ground shows as {codes} (red, green, blue of 255)"
    if exposure < 1.0:
        words += f"; the exposure is taken back to {100 * exposure:.0f} %, or it would wash out"
    return _Rendering(seen, np.full(3, exposure), (by, words + ".", *even))


def _measured_by(at: Sitting) -> str:
    """Return in words what the colours and the exposure are from."""
    result: Mapping[str, Any] = at.judgement.result
    kind = result["chart"].get("kind", ChartKind.PATCHES)
    if kind in {ChartKind.GREY_CARD, ChartKind.WHITE_PAPER}:
        return f"White and exposure are those of the {kind}; between them the colours are the camera's own."
    error = result["chart"].get("left_out_de00_median")
    sure = (
        ""
        if error is None
        else f", whose own patches are read to {error:.1f} ΔE00, yarn to about {YARN_TIMES * error:.0f}"
    )
    return f"Colours and exposure are those of the chart{sure}."


def _by_paper(seen: Seen, paper: Floats | None, even: Sequence[str]) -> _Rendering:
    """Return the rendering without a chart: the ground is taken as white paper and made neutral."""
    way_out = "photograph the skeins with a 24-patch chart, or on plain white paper"
    if paper is None:
        raise InputError(
            f"this photo has neither a chart nor a plain ground that could be taken as white: {way_out}", field="ground"
        )
    rendered = _screen_light(seen, paper)
    chroma = float(np.hypot(*_screen_lab(rendered)[1:]))
    if chroma > TINTED_CHROMA or rendered.max() < DARK_PAPER_LINEAR:
        what = f"coloured (C* {chroma:.0f})" if chroma > TINTED_CHROMA else "dark"
        raise InputError(
            f"the ground of this photo is {what} and cannot be taken as white paper; a chart there is none: {way_out}",
            field="ground",
            value=chroma,
            limit=TINTED_CHROMA,
        )
    code = round(255 * float(srgb_from_linear(PAPER_LINEAR)))
    neutral = f"Neutral by the paper only: the ground is taken as white paper and shows as {code} {code} {code}."
    owned = "Without a chart the yarn's own colours are the camera's."
    return _Rendering(seen, PAPER_LINEAR / rendered, (neutral, owned, *even))


def _paper(seen: Seen) -> Floats | None:
    """Return the light of the ground, evened and straightened, its brighter half: the other lies in shadows."""
    scene, sample = seen.scene, seen.chart.sample
    if scene.field is None:
        return None
    corners = None if sample is None else sample.corners
    x, y, rgb, _ = ground_places(scene.photo, seen.boxes, corners, scene.calibration)
    even = rgb / scene.light(x, y)
    level = even.sum(axis=1)
    return np.asarray(np.median(even[level >= np.median(level)], axis=0), float)


def _screen_light(seen: Seen, light: Floats) -> Floats:
    calibration = seen.scene.calibration
    return np.asarray(calibration.xyz_of_light(light) @ _to_screen(calibration.white).T, float)


def _to_screen(white: Floats) -> Floats:
    """Return the matrix from XYZ (Y = 100) under the calibration's white to linear sRGB."""
    return np.asarray(np.linalg.inv(srgb_xyz_matrix()) @ bradford_matrix(white, srgb_white()), float)


def _outside(at: Sitting, cut: Cut, rendering: _Rendering, fitted: Fitted) -> tuple[str, ...]:
    """Return for each skein how much of it a screen cannot show, and what that costs."""
    words = []
    for skein in _skeins_of(at):
        inside = inside_outline(skein["outline"], cut.x_px, cut.y_px)
        lost = inside & fitted.is_outside
        if not inside.any() or lost.sum() < TOLD_FRAC * inside.sum():
            continue
        rows, columns = np.nonzero(lost)
        step = max(1, len(rows) // LOOKED_AT)
        rows, columns = rows[::step], columns[::step]
        meant = rendering.light(cut.rgb[rows, columns], cut.x_px[columns], cut.y_px[rows])
        off = float(np.mean(delta_e00(_screen_lab(meant), _screen_lab(fitted.linear[rows, columns]))))
        share = 100 * lost.sum() / inside.sum()
        words.append(
            f"Skein {skein['id']} is more vivid than a screen can show in {share:.0f} % of its pixels: it is shown "
            f"duller there, by {off:.1f} ΔE00 on average; lightness and hue are kept."
        )
    return tuple(words)


def _screen_lab(linear: Floats) -> Floats:
    return lab_from_xyz(np.maximum(linear @ srgb_xyz_matrix().T, 0), srgb_white())
