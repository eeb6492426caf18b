"""A verdict on skeins as lines to read."""

from collections.abc import Iterator

from dyewright.core.model import ChartReading, JudgeResult, PairDifference, PatchReading, SkeinColour, ToTarget, Way
from dyewright.core.skeins.verdict import recipe_words

__all__ = ["verdict_lines"]

LEAST_SHOWN_FRAC = 0.005  # of a skein's pixels: less that was left out is not told


def verdict_lines(result: JudgeResult, *, has_patches: bool = False) -> list[str]:
    """Return a verdict, the answer first; `has_patches` lists the chart's patches one by one."""
    told = tuple(way.sentence for way in result.ways)
    parts = [
        [result.verdict],
        [line for skein in result.skeins for line in _skein_lines(skein)],
        [_pair_line(pair, result.tolerance) for pair in result.pairs],
        _set_lines(result),
        ["What now:", *(line for way in result.ways for line in _way_lines(way))] if result.ways else [],
        [sentence for sentence in result.advice if not sentence.endswith(told)],
        [result.assignment.words] if result.assignment else [],
        [line for chart in result.charts for line in _chart_lines(chart, has_patches=has_patches)],
        list(result.notes),
    ]
    lines = [line for part in parts if part for line in [*part, ""]]
    return lines[:-1]


def _skein_lines(skein: SkeinColour) -> Iterator[str]:
    lab = "  ".join(f"{value:6.1f}" for value in skein.lab)
    sure = ""
    if skein.lab_low is not None and skein.lab_high is not None:
        halves = [(high - low) / 2 for low, high in zip(skein.lab_low, skein.lab_high, strict=True)]
        sure = " ± " + " ".join(f"{half:.1f}" for half in halves)
    yield f"{skein.id:>2}  Lab {lab}{sure}  {skein.colour_words}"
    evenness = skein.evenness
    pattern = f"; {evenness.words}" if evenness.words else ""
    yield f"    inside: {evenness.rating}, {evenness.de00_p95:.1f} ΔE00{pattern}"
    if skein.to_target is not None:
        yield f"    to the target: {_target_words(skein.to_target)}"
    left_out = _left_out(skein)
    if left_out:
        yield f"    not read: {left_out}"
    yield from (f"    {warning}" for warning in skein.warnings)


def _target_words(target: ToTarget) -> str:
    grade = f", grey scale {target.grey_scale}" if target.grey_scale else ""
    size = f"{target.de00:.1f} ({target.low:.1f} to {target.high:.1f}) ΔE00, CMC(2:1) {target.decmc21:.1f}{grade}"
    told = {True: "it meets the target", False: "it misses the target", None: "cannot tell whether it meets the target"}
    return f"{target.words}, {size}: {told[target.is_within]}"


def _left_out(skein: SkeinColour) -> str:
    shares = (
        ("shadow", skein.left_out.shadow_frac),
        ("glare", skein.left_out.glint_frac),
        ("overexposed", skein.left_out.clipped_frac),
    )
    return ", ".join(f"{words} {100 * share:.0f} %" for words, share in shares if share >= LEAST_SHOWN_FRAC)


def _pair_line(pair: PairDifference, tolerance_de00: float) -> str:
    grade = f", grey scale {pair.grey_scale}" if pair.grey_scale else ""
    size = f"{pair.de00:.1f}, {pair.low:.1f} to {pair.high:.1f} ΔE00, CMC(2:1) {pair.decmc21:.1f}{grade}"
    match = {True: f"within {tolerance_de00:g}", False: f"not within {tolerance_de00:g}", None: "open"}[pair.is_within]
    return f"{pair.words} ({size}; {match})"


def _set_lines(result: JudgeResult) -> list[str]:
    if len(result.skeins) < 2:
        return []
    sets = "; ".join(", ".join(str(number) for number in group) for group in result.sets)
    return [f"Matching sets within {result.tolerance:g} ΔE00: {sets}"]


def _way_lines(way: Way) -> Iterator[str]:
    yield f"- {recipe_words(way.top_up) if way.top_up else ''}{way.sentence}"
    if way.foretold_de00 is not None:
        low, mid, high = way.foretold_de00
        yield f"  leaves {mid:.1f} ({low:.1f} to {high:.1f}) ΔE00"
    if way.for_buyer:
        yield f"  on the label: {way.for_buyer}"
    if way.caution:
        yield f"  ! {way.caution}"


def _chart_lines(chart: ChartReading, *, has_patches: bool) -> Iterator[str]:
    yield _how_read(chart)
    if chart.light and chart.light not in chart.warnings:
        yield chart.light
    yield from chart.warnings
    if has_patches:
        yield from (_patch_line(patch) for patch in chart.patches)


def _how_read(chart: ChartReading) -> str:
    if not chart.found:
        return f"Photo {chart.photo}: read without a chart."
    if chart.left_out_de00_median is None:
        return f"Photo {chart.photo}: read by a {chart.kind.value}."
    return (
        f"Photo {chart.photo}: {chart.kind.value} read, left-out error {chart.left_out_de00_median:.1f} ΔE00 (median); "
        "expect about twice that for yarn."
    )


def _patch_line(patch: PatchReading) -> str:
    if patch.why_unused:
        return f"  {patch.name}: not used, {patch.why_unused}"
    left_out = "" if patch.left_out_de00 is None else f", {patch.left_out_de00:.1f} with itself left out"
    return f"  {patch.name}: missed by {patch.fit_de00:.1f}{left_out} ΔE00"
