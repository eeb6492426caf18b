"""The chart in a photo, read and verified: which patches count, and what is wrong where it does not fit."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import light_of, reflectance_from_lab, xyz_from_reflectance
from dyewright.core.model import ChartReading
from dyewright.core.skeins import FIT_LIMIT_DE00, Calibration, LightField, calibrate, misfits, relative_calibration
from dyewright.data.colour import load_chart, load_observer_tables
from dyewright.errors import InputError
from dyewright.files.chart_values import ChartValues, read_chart_values
from dyewright.photo.chart import COLUMNS, ROWS, ChartSample, find_charts, sample_chart
from dyewright.photo.load import LoadedPhoto

__all__ = ["ChartChoice", "ReadChart", "Reference", "chart_reading", "read_chart", "recalibrated", "reference_of"]

Floats = NDArray[np.float64]
ChartChoice = str | tuple[tuple[float, float], ...]
"""How the chart is found: "auto", "none", or its four corners clockwise from the dark-skin patch."""

CLIPPED_LIMIT_FRAC = 0.02  # of a patch's middle; ours
SHADED_LIMIT_FRAC = 0.25  # spread of lightness inside a patch; noise on the black one reaches 0.13 in photos (measured)
DOUBTFUL_LEFT_OUT_DE00 = 3.5  # phone pictures of a good chart reach 2 to 3 (measured on six photographs)


@dataclass(frozen=True)
class Reference:
    """What the chart's patches are, under D65 for the 10° observer; `note` says which chart was assumed."""

    xyz: Floats
    white: Floats
    names: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class ReadChart:
    """The calibration of one photo, with the chart it came from (None without) and what is to be warned about."""

    calibration: Calibration
    sample: ChartSample | None = None
    is_usable: NDArray[np.bool_] | None = None
    warnings: tuple[str, ...] = ()


def reference_of(chart_values: Path | None, *, is_older_chart: bool) -> Reference:
    """Return the reference of the chart in use, carried from its own light to D65 and 10° through smooth curves."""
    patches = load_chart()
    if chart_values is not None:
        values, note = read_chart_values(chart_values), f"The chart's values are those of {chart_values.name}."
    elif is_older_chart:
        values = ChartValues(tuple(patch.lab_before_2014 for patch in patches))
        note = "The chart was taken as one made before November 2014."
    else:
        values = ChartValues(tuple(patch.lab_after_2014 for patch in patches))
        note = "The chart was taken as one made after November 2014; an older one differs by up to 3 of Lab."
    tables = load_observer_tables()
    curves = reflectance_from_lab(values.labs, tables, illuminant=values.illuminant, observer=values.observer)
    weights, white = light_of(tables, "D65", 10)
    return Reference(xyz_from_reflectance(curves, weights), white, tuple(patch.name for patch in patches), note)


def read_chart(photo: LoadedPhoto, choice: ChartChoice, reference: Reference) -> ReadChart:
    """Return the calibration that a photo's chart gives; the relative one where there is no chart.

    Raises:
        InputError: corners were given and no chart can be read there.
    """
    if choice == "none":
        return ReadChart(relative_calibration(reference.white))
    if not isinstance(choice, str):
        return _verified(photo, sample_chart(photo, choice), reference)
    for corners in find_charts(photo):
        try:
            chart = _fitted(photo, sample_chart(photo, corners), reference)
        except InputError:
            continue  # what looked like a chart is none, or a part of one
        if _mean_fit(chart) < FIT_LIMIT_DE00:
            return chart
    warning = "No chart was found in the photo: mark its four corners, or read the colours as relative."
    return ReadChart(relative_calibration(reference.white), warnings=(warning,))


def recalibrated(photo: LoadedPhoto, chart: ReadChart, reference: Reference, field: LightField) -> Calibration:
    """Return the calibration with the fall of light across the chart taken out."""
    if chart.sample is None:
        return chart.calibration
    x, y = chart.sample.centres.T
    light = field.at(x, y) / field.at(*chart.sample.corners.mean(axis=0))
    return calibrate(
        chart.sample.rgb,
        reference.xyz,
        reference.white,
        is_linear=photo.is_linear_file,
        is_usable=chart.is_usable,
        patch_light=light,
    )


def chart_reading(chart: ReadChart, number: int) -> ChartReading:
    """Return what is told of the chart in the `number`-th photo."""
    fit, left_out = chart.calibration.fit_de00, chart.calibration.left_out_de00
    if chart.sample is None or fit is None or left_out is None:
        return ChartReading(found=False, warnings=chart.warnings, photo=number)
    median = float(np.nanmedian(left_out))
    doubtful = f"Colours are read poorly here: the chart's own patches miss by {median:.1f} ΔE00 when left out."
    return ChartReading(
        found=True,
        corners=tuple((float(x), float(y)) for x, y in chart.sample.corners),
        fit_de00_median=float(np.median(fit[~np.isnan(left_out)])),
        left_out_de00_median=median,
        left_out_de00_p95=float(np.nanpercentile(left_out, 95)),
        warnings=(*chart.warnings, *([doubtful] if median > DOUBTFUL_LEFT_OUT_DE00 else [])),
        photo=number,
    )


def _fitted(photo: LoadedPhoto, sample: ChartSample, reference: Reference) -> ReadChart:
    """Return the chart with clipped, shaded and misfitting patches left out, each named in a warning."""
    is_clipped, is_shaded = sample.clipped_frac > CLIPPED_LIMIT_FRAC, sample.spread_frac > SHADED_LIMIT_FRAC
    usable = ~is_clipped & ~is_shaded
    outliers = misfits(sample.rgb, reference.xyz, reference.white, is_linear=photo.is_linear_file, is_usable=usable)
    usable &= ~outliers
    reasons = (
        (is_clipped, "overexposed"),
        (is_shaded & ~is_clipped, "not plain (a shadow, glare or something on it)"),
        (outliers, "far from what the others say (covered, stained or in glare)"),
    )
    warnings = [
        f"Left out of the chart, being {why}: {', '.join(reference.names[i] for i in np.flatnonzero(mask))}."
        for mask, why in reasons
        if mask.any()
    ]
    calibration = calibrate(
        sample.rgb, reference.xyz, reference.white, is_linear=photo.is_linear_file, is_usable=usable
    )
    return ReadChart(calibration, sample, usable, tuple(warnings))


def _mean_fit(chart: ReadChart) -> float:
    fit, usable = chart.calibration.fit_de00, chart.is_usable
    return float("inf") if fit is None or usable is None else float(fit[usable].mean())


def _verified(photo: LoadedPhoto, sample: ChartSample, reference: Reference) -> ReadChart:
    """Return the chart between given corners, or say why it does not read as one."""
    where = "mark the corners clockwise from the dark-skin patch (the brown one), or judge with --chart none"
    reason = _turned(photo, sample, reference)
    try:
        chart = _fitted(photo, sample, reference)
    except InputError:
        if reason is None:
            raise
        raise InputError(f"{reason}: {where}", field="chart") from None
    mean = _mean_fit(chart)
    if mean < FIT_LIMIT_DE00:
        return chart
    raise InputError(
        f"between these corners the chart does not read as one: its patches miss by {mean:.0f} ΔE00 on average, the "
        f"limit is {FIT_LIMIT_DE00:.0f} ({reason or 'much of it is covered, or the corners lie beside it'}): {where}",
        field="chart",
        value=mean,
        limit=FIT_LIMIT_DE00,
    )


def _turned(photo: LoadedPhoto, sample: ChartSample, reference: Reference) -> str | None:
    """Return what is the matter where the patches read well in another order; None where they do not."""
    order = np.arange(ROWS * COLUMNS).reshape(ROWS, COLUMNS)
    readings = {
        "the chart is mirrored": (order[:, ::-1], order[::-1]),
        "the corners begin at the wrong end of the chart": (order[::-1, ::-1],),
    }
    for words, orders in readings.items():
        if any(_reads(photo, sample, reference, turned.ravel()) for turned in orders):
            return words
    return None


def _reads(photo: LoadedPhoto, sample: ChartSample, reference: Reference, order: NDArray[np.intp]) -> bool:
    try:
        turned = calibrate(sample.rgb[order], reference.xyz, reference.white, is_linear=photo.is_linear_file)
    except InputError:
        return False
    return turned.fit_de00 is not None and float(turned.fit_de00.mean()) < FIT_LIMIT_DE00 / 2
