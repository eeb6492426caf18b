"""What a photo's colours are read from, verified: which patches count, and what is wrong where they do not fit."""

from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import light_of, reflectance_from_lab, xyz_from_reflectance
from dyewright.core.model import ChartKind, ChartReading, PatchReading
from dyewright.core.skeins import (
    FIT_LIMIT_DE00,
    GREY_CARD,
    LAMPS,
    LEAST_PATCHES,
    WHITE_PAPER,
    Calibration,
    LampEvidence,
    LightField,
    calibrate,
    chart_problem,
    grey_calibration,
    lamp_evidence,
    lamp_patterns,
    light_warnings,
    light_words,
    misfits,
    relative_calibration,
)
from dyewright.data.colour import load_chart, load_observer_tables
from dyewright.errors import InputError
from dyewright.files.chart_values import ChartValues, read_chart_values
from dyewright.photo.chart import COLUMNS, ROWS, ChartSample, find_charts, sample_chart
from dyewright.photo.load import LoadedPhoto
from dyewright.photo.surface import SurfaceSample, sample_ground, sample_surface
from dyewright.services.judging.chart_choice import ChartChoice, PlainChoice

__all__ = ["ReadChart", "Reference", "chart_reading", "read_chart", "recalibrated", "reference_of"]

Floats = NDArray[np.float64]

CLIPPED_LIMIT_FRAC = 0.02  # of a patch's middle; ours
SHADED_LIMIT_FRAC = 0.25  # spread of lightness inside a patch; noise on the black one reaches 0.13 in photos (measured)
GROUND_SPREAD_FRAC = 0.4  # the same across a whole ground, which light falls unevenly on; ours
DOUBTFUL_LEFT_OUT_DE00 = 3.5  # phone pictures of a good chart reach 2 to 3 (measured on six photographs)
LEAST_LIGHT = 0.02  # of white, below which a card or paper is too dark to read a colour by; ours
_WAY_OUT = "mark the corners clockwise from the dark-skin patch (the brown one), or judge with --chart none"
SURFACES = {ChartKind.GREY_CARD: GREY_CARD, ChartKind.WHITE_PAPER: WHITE_PAPER}


@dataclass(frozen=True)
class Reference:
    """What the chart's patches are, under D65 for the 10° observer; `note` says which chart was assumed.

    `has_own_values` is true of a chart by the user's own table, whose curves are not known.
    """

    xyz: Floats
    white: Floats
    names: tuple[str, ...]
    note: str
    has_own_values: bool = False


@dataclass(frozen=True)
class ReadChart:
    """The calibration of one photo, with what it came from and what is to be warned about.

    `sample` is None without a chart of patches, `corners` where nothing was marked or found. `unused` says of each
    patch why it does not count, empty where it does.
    """

    calibration: Calibration
    sample: ChartSample | None = None
    unused: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    kind: ChartKind = ChartKind.NONE
    corners: Floats | None = None
    evidence: LampEvidence = field(default_factory=LampEvidence)

    @property
    def is_usable(self) -> NDArray[np.bool_]:
        """The patches that count, shape (24,)."""
        return np.array([not why for why in self.unused], bool)


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
    names = tuple(patch.name for patch in patches)
    xyz = xyz_from_reflectance(curves, weights)
    return Reference(xyz, white, names, note, has_own_values=chart_values is not None)


def read_chart(photo: LoadedPhoto, choice: ChartChoice, reference: Reference) -> ReadChart:
    """Return the calibration that a photo's chart, card or paper gives; the relative one where there is none.

    Raises:
        InputError: corners were given and no chart can be read there, or no plain card or paper.
    """
    if choice == "none":
        return ReadChart(relative_calibration(reference.white))
    if isinstance(choice, PlainChoice):
        return _plain(photo, choice, reference)
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


def chart_reading(chart: ReadChart, number: int, mixed_frac: float = 0.0) -> ChartReading:
    """Return what is told of the chart in the `number`-th photo.

    Args:
        chart: the chart, card or paper as read.
        number: of the photo.
        mixed_frac: how much a channel of the light changes against the others across the ground, a fraction.
    """
    words = light_words(chart.evidence, mixed_frac)
    is_poor = bool(light_warnings(chart.evidence, mixed_frac))
    reading = ChartReading(
        found=chart.kind is not ChartKind.NONE,
        corners=None if chart.corners is None else tuple((float(x), float(y)) for x, y in chart.corners),
        warnings=(*chart.warnings, *([words] if is_poor else [])),
        photo=number,
        kind=chart.kind,
        light=words,
    )
    return reading if chart.sample is None else _with_patches(reading, chart)


def _with_patches(reading: ChartReading, chart: ReadChart) -> ChartReading:
    """Return the reading with the errors of the chart's patches."""
    fit, left_out = chart.calibration.fit_de00, chart.calibration.left_out_de00
    if fit is None or left_out is None:  # pragma: no cover - a chart of patches always has both
        return reading
    median = float(np.nanmedian(left_out))
    doubtful = f"Colours are read poorly here: the chart's own patches miss by {median:.1f} ΔE00 when left out."
    names = [patch.name for patch in load_chart()]
    return replace(
        reading,
        fit_de00_median=float(np.median(fit[~np.isnan(left_out)])),
        left_out_de00_median=median,
        left_out_de00_p95=float(np.nanpercentile(left_out, 95)),
        warnings=(*reading.warnings, *([doubtful] if median > DOUBTFUL_LEFT_OUT_DE00 else [])),
        patches=tuple(
            PatchReading(name, float(fits), None if why else float(left), why)
            for name, fits, left, why in zip(names, fit, left_out, chart.unused, strict=True)
        ),
    )


def _fitted(photo: LoadedPhoto, sample: ChartSample, reference: Reference) -> ReadChart:
    """Return the chart with clipped, shaded and misfitting patches left out, each named in a warning."""
    is_clipped, is_shaded = sample.clipped_frac > CLIPPED_LIMIT_FRAC, sample.spread_frac > SHADED_LIMIT_FRAC
    usable = ~is_clipped & ~is_shaded
    outliers = misfits(sample.rgb, reference.xyz, reference.white, is_linear=photo.is_linear_file, is_usable=usable)
    unused = np.select(
        [is_clipped, is_shaded, outliers],
        [
            "overexposed",
            "not plain (a shadow, glare or something on it)",
            "far from what the others say (covered, stained or in glare)",
        ],
        "",
    )
    _check_mostly_chart(unused == "", outliers)
    calibration = calibrate(
        sample.rgb, reference.xyz, reference.white, is_linear=photo.is_linear_file, is_usable=unused == ""
    )
    problem = chart_problem(sample.rgb, reference.xyz, reference.white, is_linear=photo.is_linear_file)
    patterns = None if reference.has_own_values else _patterns()
    return ReadChart(
        calibration,
        sample,
        tuple(unused.tolist()),
        tuple(
            f"Left out of the chart, being {why}: {', '.join(np.array(reference.names)[unused == why])}."
            for why in dict.fromkeys(unused.tolist())
            if why
        ),
        kind=ChartKind.PATCHES,
        corners=sample.corners,
        evidence=_with_balance(lamp_evidence(problem, unused == "", patterns), photo),
    )


def _with_balance(evidence: LampEvidence, photo: LoadedPhoto) -> LampEvidence:
    """Return the evidence with the white balance put back that was taken out of a raw file."""
    if evidence.red_to_blue is None or photo.red_to_blue is None:
        return evidence
    return replace(evidence, red_to_blue=evidence.red_to_blue * photo.red_to_blue)


def _check_mostly_chart(used: NDArray[np.bool_], outliers: NDArray[np.bool_]) -> None:
    if used.sum() < LEAST_PATCHES <= (used | outliers).sum():
        raise InputError(
            f"between these corners the chart does not read as one: {outliers.sum()} of its 24 patches are not what "
            f"the chart has there (much of it is covered, or the corners lie beside it): {_WAY_OUT}",
            field="chart",
            value=int(used.sum()),
            limit=LEAST_PATCHES,
        )


@cache
def _patterns() -> Floats:
    """Return what each lamp leaves of the common chart's patches."""
    tables = load_observer_tables()
    lamps = {lamp: light_of(tables, lamp, 10)[0] for lamp in LAMPS}
    return lamp_patterns([patch.reflectance for patch in load_chart()], lamps, light_of(tables, "D65", 10)[0])


def _plain(photo: LoadedPhoto, choice: PlainChoice, reference: Reference) -> ReadChart:
    """Return the calibration by a grey card or white paper, or say why it cannot be read by."""
    sample = sample_ground(photo) if choice.corners is None else sample_surface(photo, choice.corners)
    _check_plain(sample, choice.kind)
    calibration = grey_calibration(sample.rgb, SURFACES[choice.kind], reference.white, is_linear=photo.is_linear_file)
    warning = (
        f"Read by a {choice.kind}: it sets lightness and white alone, so that a vivid colour may be 10 ΔE00 off. A "
        "24-patch chart is several times surer."
    )
    red, _, blue = sample.rgb
    evidence = _with_balance(LampEvidence(red_to_blue=float(red / blue)), photo)
    return ReadChart(calibration, warnings=(warning,), kind=choice.kind, corners=sample.corners, evidence=evidence)


def _check_plain(sample: SurfaceSample, kind: ChartKind) -> None:
    """Raise where a surface is overexposed, not plain or too dark."""
    limit = SHADED_LIMIT_FRAC if sample.corners is not None else GROUND_SPREAD_FRAC
    if sample.clipped_frac > CLIPPED_LIMIT_FRAC:
        raise InputError(
            f"the {kind} is overexposed in {sample.clipped_frac:.0%} of it, so that its white is lost: photograph it "
            "with less exposure",
            field="chart",
            value=sample.clipped_frac,
            limit=CLIPPED_LIMIT_FRAC,
        )
    if sample.spread_frac > limit:
        raise InputError(
            f"the {kind} is not plain: its lightness differs by {sample.spread_frac:.0%}, the limit is {limit:.0%} (a "
            "shadow lies on it, or the corners lie beside it)",
            field="chart",
            value=sample.spread_frac,
            limit=limit,
        )
    if sample.rgb.min() < LEAST_LIGHT:
        raise InputError(
            f"the {kind} is too dark in the photo: its darkest channel has {sample.rgb.min():.1%} of full light, at "
            f"least {LEAST_LIGHT:.0%} are needed; photograph it with more exposure",
            field="chart",
            value=float(sample.rgb.min()),
            limit=LEAST_LIGHT,
        )


def _mean_fit(chart: ReadChart) -> float:
    fit = chart.calibration.fit_de00
    return float("inf") if fit is None else float(fit[chart.is_usable].mean())


def _verified(photo: LoadedPhoto, sample: ChartSample, reference: Reference) -> ReadChart:
    """Return the chart between given corners, or say why it does not read as one."""
    reason = _turned(photo, sample, reference)
    try:
        chart = _fitted(photo, sample, reference)
    except InputError:
        if reason is None:
            raise
        raise InputError(f"{reason}: {_WAY_OUT}", field="chart") from None
    mean = _mean_fit(chart)
    if mean < FIT_LIMIT_DE00:
        return chart
    reason = reason or "much of it is covered, or the corners lie beside it"
    raise InputError(
        f"between these corners the chart does not read as one: its patches miss by {mean:.0f} ΔE00 on average, the "
        f"limit is {FIT_LIMIT_DE00:.0f} ({reason}): {_WAY_OUT}",
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
