"""Judging skeins by photo: from image files, a chart and boxes to the verdict."""

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from dyewright.core.colour import colour_words, display_hex
from dyewright.core.model import Basis, ChartKind, JudgeResult, Lab, Shape, SkeinColour
from dyewright.core.skeins import (
    Calibration,
    Errors,
    SkeinReading,
    log_light_slopes,
    matching_sets,
    pair_differences,
    to_target,
    verdict,
)
from dyewright.errors import InputError
from dyewright.photo.draw import drawn
from dyewright.photo.load import load_photo
from dyewright.services.judging._chart import Reference, reference_of
from dyewright.services.judging._photo import PhotoReading, Request, read_photo
from dyewright.services.judging.chart_choice import ChartChoice, chart_from_text, is_for_all
from dyewright.services.judging.ways import with_ways

__all__ = [
    "DEFAULT_TOLERANCE",
    "ChartChoice",
    "box_from_text",
    "chart_from_text",
    "judge",
    "overlay",
    "shape_from_text",
]

DEFAULT_TOLERANCE = 1.0  # ΔE00; the trade's customary limit for one lot is 1.0 CMC(2:1) (common practice, no source)
LIT_FRAC = 0.05  # of light by which lit strands stand for a yarn's colour (drawn skeins miss 2 to 3 of L*: measured)
SCALE_FRAC = 0.05  # estimate: of a difference, read through a chart
RENDERED_SCALE_FRAC = 0.15  # estimate: the same without a chart: a phone's own rendering stretches contrast
UNKNOWN_LIGHT_FRAC = 0.1  # between two places of a table lit from one side (measured on drawn scenes: 0.1)
JOINED_FRAC = 0.3  # estimate: of a colour's doubt through the chart that two photos do not share
Z95 = 1.96  # the normal deviate that holds 95 %
BASES = {
    ChartKind.PATCHES: Basis.MEASURED,
    ChartKind.GREY_CARD: Basis.DEFAULT,
    ChartKind.WHITE_PAPER: Basis.DEFAULT,
    ChartKind.NONE: Basis.RELATIVE,
}

_LAB_NOTE = (
    "Colours are CIELAB under D65 for the 10° observer; the chart's D50, 2° reference was carried over through smooth "
    "curves, right to about 0.6 ΔE00."
)
_PLAIN_NOTE = (
    "Colours are CIELAB under D65 for the 10° observer, read by a plain surface of typical colour: the camera's own "
    "way with colours is taken as a phone's usually is, and the intervals are as wide as that."
)
_SURER_NOTE = "Differences between skeins of one photo are surer than their colours."
_NO_GROUND_NOTE = (
    "No plain ground was found round the skeins, so the fall of light was not taken out: lay them on white paper to "
    "tell small differences."
)
_DISPUTED_NOTE = (
    "The ground grows lighter or darker across the photo in a way that the chart does not show (the edge of a shadow, "
    "a sheet that bends), so the fall of light was not taken out and small differences cannot be told: let skeins and "
    "chart lie in one even light."
)
_RELATIVE_NOTE = (
    "No chart: the colours are relative to this camera and light and have no interval; differences hold better."
)


def box_from_text(text: str) -> Shape:
    """Return a box from "x,y,w,h" in pixels of the upright photo; "2:x,y,w,h" is a box on the second photo.

    Raises:
        InputError: not four numbers, or a width or height that is not above 0.
    """
    number, _, numbers = text.rpartition(":")
    try:
        x, y, width, height = (float(part) for part in numbers.split(","))
        photo = int(number or 1)
    except ValueError:
        x, y, width, height, photo = np.nan, np.nan, np.nan, np.nan, 1
    if not np.all(np.isfinite([x, y, width, height])):
        raise InputError(
            f"the box {text!r} is not four numbers x,y,w,h in pixels, such as 120,80,300,400", field="box", value=text
        )
    if not (width > 0 and height > 0 and photo > 0):
        raise InputError(
            f"the box {text!r} is {width:g} × {height:g} pixels: width and height must be above 0",
            field="box",
            value=min(width, height),
            limit=0,
        )
    return Shape.box(x, y, width, height, photo)


def shape_from_text(text: str) -> Shape:
    """Return an outline from "x,y x,y x,y …" or a box from "x,y,w,h", in pixels of the upright photo.

    "2:…" is on the second photo.

    Raises:
        InputError: fewer than three points, points that are not two numbers, a box that is none.
    """
    number, _, places = text.rpartition(":")
    words = re.sub(r"\s*,\s*", ",", places.replace(";", " ")).split()
    if len(words) < 2:
        return box_from_text(text)
    try:
        outline = tuple((float(x), float(y)) for x, y in (word.split(",") for word in words))
        photo = int(number or 1)
    except ValueError:
        outline, photo = (), 0
    if len(outline) < 3 or not np.all(np.isfinite(outline)) or photo < 1:
        raise InputError(
            f"the outline {text!r} is not three points or more, each x,y in pixels, such as 120,80 420,80 270,480",
            field="box",
            value=text,
        )
    return Shape(outline, photo)


def judge(
    photos: Sequence[Path | bytes],
    *,
    chart: ChartChoice = "auto",
    boxes: Sequence[Shape] = (),
    target: Lab | None = None,
    tolerance: float = DEFAULT_TOLERANCE,
    chart_values: Path | None = None,
    is_older_chart: bool = False,
    is_linear: bool = False,
    names: Sequence[str] = (),
) -> JudgeResult:
    """Return the verdict on the skeins of one or more photos.

    Args:
        photos: image files, as paths or bytes.
        chart: see ChartChoice; corners belong to the first photo, in the others the chart is looked for.
        boxes: round the skeins; a photo without any is searched for skeins on a plain ground.
        target: the colour that was meant, Lab (D65, 10°).
        tolerance: ΔE00 within which skeins match, above 0.
        chart_values: CSV of the chart's own reference; the common 24-patch chart's otherwise.
        is_older_chart: the common chart was made before November 2014.
        is_linear: the files hold linear light.
        names: of the photos, for messages.

    Raises:
        InputError: a file that is no photo, a chart that does not read as one, a box off the photo, no skein.
    """
    _check(photos, boxes, tolerance)
    reference = reference_of(chart_values, is_older_chart=is_older_chart)
    readings: list[PhotoReading] = []
    for number, source in enumerate(photos, start=1):
        request = Request(
            source=source,
            number=number,
            name=names[number - 1] if number <= len(names) else None,
            chart=chart if number == 1 or is_for_all(chart) else "auto",
            boxes=tuple(box for box in boxes if box.photo == number),
            is_linear=is_linear,
        )
        readings.append(read_photo(request, reference, 1 + sum(len(reading.skeins) for reading in readings)))
    _check_joined(readings)
    return _result(readings, reference, target, tolerance)


def overlay(photo: Path | bytes, result: JudgeResult, *, number: int = 1) -> bytes:
    """Return a PNG of the photo (the `number`-th of the result) with outlines and numbers of skeins and the chart."""
    charts = [chart.corners for chart in result.charts if chart.photo == number and chart.corners is not None]
    skeins = [(str(skein.id), skein.outline) for skein in result.skeins if skein.photo == number]
    return drawn(load_photo(photo), skeins, charts)


def _check(photos: Sequence[Path | bytes], boxes: Sequence[Shape], tolerance: float) -> None:
    if not photos:
        raise InputError("no photo is given: name at least one image file", field="photo")
    if not 0 < tolerance < np.inf:
        raise InputError(
            f"the tolerance is {tolerance:g}; it must be above 0, 1 is usual",
            field="tolerance",
            value=tolerance,
            limit=0,
        )
    astray = next((box for box in boxes if box.photo > len(photos)), None)
    if astray is not None:
        raise InputError(
            f"a box is on photo {astray.photo}, but {len(photos)} are given", field="box", value=astray.photo
        )


def _check_joined(readings: Sequence[PhotoReading]) -> None:
    if len(readings) > 1 and not all(reading.chart.found for reading in readings):
        lacking = next(reading.chart.photo for reading in readings if not reading.chart.found)
        raise InputError(
            f"photo {lacking} shows no chart: skeins of several photos can only be compared through a chart in each; "
            "put it into the picture, or judge the photos one by one",
            field="chart",
            value=lacking,
        )


def _result(
    readings: Sequence[PhotoReading], reference: Reference, target: Lab | None, tolerance: float
) -> JudgeResult:
    skeins: list[SkeinColour] = []
    for reading in readings:
        light = np.sqrt(np.sum(reading.shared_lab**2, axis=0))
        for box, skein, sd in zip(reading.boxes, reading.skeins, light, strict=True):
            lit = replace(skein, sd_lab=np.hypot(skein.sd_lab, sd))
            skeins.append(_skein_colour(len(skeins) + 1, box, lit, reading.calibration, target, tolerance))
    ids = [skein.id for skein in skeins]
    rng = np.random.default_rng(len(ids))  # the same photo gives the same answer twice
    pairs = pair_differences(ids, [skein.lab for skein in skeins], _errors(readings), tolerance, rng)
    sets = matching_sets(ids, pairs, tolerance)
    result = JudgeResult(
        chart=readings[0].chart,
        skeins=tuple(skeins),
        pairs=pairs,
        sets=sets,
        verdict=verdict(skeins, pairs, sets, tolerance),
        advice=(),
        basis=BASES[readings[0].chart.kind],
        tolerance=tolerance,
        charts=tuple(reading.chart for reading in readings),
        light_uneven_frac=readings[0].uneven_frac,
        notes=_notes(readings, reference, has_target=target is not None),
        target=target,
    )
    return with_ways(result)


def _skein_colour(
    number: int,
    box: Shape,
    reading: SkeinReading,
    calibration: Calibration,
    target: Lab | None,
    tolerance: float,
) -> SkeinColour:
    lab = (float(reading.lab[0]), float(reading.lab[1]), float(reading.lab[2]))
    colour = SkeinColour(
        id=number,
        outline=box.outline,
        lab=lab,
        lab_low=None,
        lab_high=None,
        evenness=reading.evenness,
        hex=display_hex(lab, calibration.white),
        colour_words=colour_words(lab),
        left_out_frac=reading.left_out_frac,
        left_out=reading.left_out,
        warnings=reading.warnings,
        photo=box.photo,
    )
    chart_sd = calibration.colour_sd_lab(reading.lab)
    if chart_sd is None:
        return colour
    lit_sd = LIT_FRAC * log_light_slopes(reading.lab).sum(axis=-1)
    sd = np.sqrt(reading.sd_lab**2 + chart_sd**2 + lit_sd**2)
    half = Z95 * sd
    low, high = (reading.lab - half).tolist(), (reading.lab + half).tolist()
    return replace(
        colour,
        lab_low=(low[0], low[1], low[2]),
        lab_high=(high[0], high[1], high[2]),
        to_target=None if target is None else to_target(lab, sd, target, tolerance),
    )


def _errors(readings: Sequence[PhotoReading]) -> Errors:
    """Return why the colours of all skeins may be off against one another; photos share no error of light."""
    own = [_own_sd(skein, reading, len(readings)) for reading in readings for skein in reading.skeins]
    count, causes, start = len(own), [], 0
    for reading in readings:
        shared = np.zeros((len(reading.shared_lab), count, 3))
        shared[:, start : start + len(reading.skeins)] = reading.shared_lab
        causes.append(shared)
        start += len(reading.skeins)
    scale = SCALE_FRAC if readings[0].chart.kind is ChartKind.PATCHES else RENDERED_SCALE_FRAC
    return Errors(np.array(own).reshape(-1, 3), np.concatenate(causes), scale)


def _own_sd(skein: SkeinReading, reading: PhotoReading, photos: int) -> np.ndarray:
    """Return the standard error of a skein for itself: within one photo the chart's error is shared."""
    variance = np.square(skein.sd_lab)
    if reading.uneven_frac is None:
        variance = variance + (UNKNOWN_LIGHT_FRAC * log_light_slopes(skein.lab).sum(axis=-1)) ** 2
    chart_sd = reading.calibration.colour_sd_lab(skein.lab)
    if photos > 1 and chart_sd is not None:
        variance = variance + (JOINED_FRAC * chart_sd) ** 2
    return np.asarray(np.sqrt(variance), float)


def _notes(readings: Sequence[PhotoReading], reference: Reference, *, has_target: bool) -> tuple[str, ...]:
    said = [note for reading in readings for note in reading.notes]
    if readings[0].chart.kind is ChartKind.PATCHES:
        said += [_LAB_NOTE, reference.note, _SURER_NOTE]
    elif readings[0].chart.found:
        said += [_PLAIN_NOTE, _SURER_NOTE]
    else:
        said.append(_RELATIVE_NOTE)
        said += ["Without a chart no skein can be held against a target."] if has_target else []
    uneven = [reading.uneven_frac for reading in readings]
    known = [value for value in uneven if value is not None]
    if len(known) == len(uneven):
        said.append(f"Light across the ground differs by {100 * max(known):.0f} % between skeins; it was taken out.")
    else:
        said.append(_DISPUTED_NOTE if any(reading.is_disputed for reading in readings) else _NO_GROUND_NOTE)
    said.append("The tolerance is in ΔE00. Judge skeins dry: damp yarn is darker.")
    return tuple(said)
