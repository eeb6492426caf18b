"""A sheet in words: the figures, weights and clocks as a page or a printed sheet shows them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from pathlib import Path

import dyewright
from dyewright.core.model import AssistantAmount, DyeAmount, Fibre, Forecast, PotShare, Sheet, SheetStep, StepKind
from dyewright.data.practice import load_cautions
from dyewright.errors import StudioError
from dyewright.services.forecasting.expected import expected_lines
from dyewright.services.forecasting.foretell import forecast_from
from dyewright.services.forecasting.words import basis_words
from dyewright.sheets.charts import Theme, temperature_chart
from dyewright.sheets.pdf import Figure, PaperSheet, PaperStep, WeightRow, qr_svg, sheet_pdf
from dyewright.units import show_duration, show_mass, show_percent, show_temperature, show_volume

__all__ = [
    "clock",
    "fibre_words",
    "figures_of",
    "paper_of",
    "ph_words",
    "print_sheet",
    "sheet_chart",
    "step_clock",
    "weights_of",
    "write_pdf",
    "yarn_words",
]

COOLING_SHOWN_MIN = 60.0  # the chart ends an hour into the cooling, whose rest says little


def print_sheet(
    sheet: Sheet,
    *,
    told: Forecast | None = None,
    run_url: str | None = None,
    swatch_hex: str | None = None,
    swatch_words: str = "",
) -> bytes:
    """Return the sheet as PDF.

    Args:
        sheet: the plan.
        told: what is expected of it; left out where None.
        run_url: address of the run's page for the QR code; none is printed where None.
        swatch_hex: the expected colour, "#rrggbb".
        swatch_words: what the swatch is ("predicted", "last lot").
    """
    return sheet_pdf(paper_of(sheet, told=told, run_url=run_url, swatch_hex=swatch_hex, swatch_words=swatch_words))


def write_pdf(sheet: Sheet, path: Path) -> None:
    """Write the sheet as PDF to a file.

    Raises:
        StudioError: the file cannot be written.
    """
    content = print_sheet(sheet, told=forecast_from(sheet))
    try:
        path.write_bytes(content)
    except OSError as error:
        reason = error.strerror or "the system refuses"
        raise StudioError(f"the sheet cannot be written to {path}: {reason.lower()}", field="pdf") from error


def paper_of(
    sheet: Sheet,
    *,
    told: Forecast | None = None,
    run_url: str | None = None,
    swatch_hex: str | None = None,
    swatch_words: str = "",
    theme: Theme = Theme.PRINT,
) -> PaperSheet:
    """Return the sheet as text ready to set; `theme` says whether its chart is drawn for paper or a screen's column."""
    throughout = [load_cautions()[key].sentence for key in ("vessels", "defer")]
    return PaperSheet(
        title=sheet.title,
        subtitle=yarn_words(sheet),
        figures=figures_of(sheet),
        weights=weights_of(sheet),
        pot_names=[pot.name for pot in sheet.pots] if len(sheet.pots) > 1 else [],
        steps=[_paper_step(step) for step in (sheet.steps if theme is Theme.PRINT else _folded(sheet.steps))],
        cautions=throughout,
        notes=sheet.notes,
        footer=f"Dyewright {dyewright.__version__}, planned from {_basis_words(sheet)}.",
        chart_svg=sheet_chart(sheet, theme),
        chart_words=f"Expected temperature of the bath, up to {show_temperature(sheet.heat.to_c)}",
        swatch_hex=swatch_hex,
        swatch_words=swatch_words,
        qr_svg=None if run_url is None else qr_svg(run_url),
        expected=() if told is None else expected_lines(told),
        expected_from="" if told is None else f"{basis_words(told)}; the brackets hold nine of ten pots.",
    )


def _basis_words(sheet: Sheet) -> str:
    return "class defaults, named in the notes" if sheet.basis.value == "default" else "what you measured"


def yarn_words(sheet: Sheet) -> str:
    """Return what is dyed, in one line: "250 g of superwash wool 80 %, nylon 20 %"."""
    yarn = sheet.card.yarn
    blend = fibre_words(yarn.fibre_frac, is_superwash=yarn.is_superwash)
    skeins = f" in {yarn.skeins} skeins" if yarn.skeins and yarn.skeins > 1 else ""
    return f"{show_mass(yarn.dry_g)} of {blend}{skeins}"


def fibre_words(fibre_frac: Mapping[Fibre, float], *, is_superwash: bool) -> str:
    """Return what a yarn is made of, the most first: "superwash wool 80 %, nylon 20 %"."""
    shares = sorted(fibre_frac.items(), key=lambda item: -item[1])
    hair = {Fibre.WOOL, Fibre.ALPACA, Fibre.MOHAIR}
    names = [f"{'superwash ' if is_superwash and fibre in hair else ''}{fibre.value}" for fibre, _ in shares]
    if len(shares) == 1:
        return names[0]
    return ", ".join(f"{name} {show_percent(share)}" for name, (_, share) in zip(names, shares, strict=True))


def ph_words(value: float | None, low: float | None, high: float | None) -> str:
    """Return a pH to one decimal, or its range where the water leaves one."""
    if value is None:
        return "not known"
    if low is not None and high is not None and high - low >= 0.1:
        return f"{low:.1f}–{high:.1f}"
    return f"{value:.1f}"


def figures_of(sheet: Sheet) -> list[Figure]:
    """Return the great figures: water, acidity, heat, pot."""
    closed = ph_words(sheet.ph_closed, sheet.ph_closed_low, sheet.ph_closed_high)
    stripped = ph_words(sheet.ph_stripped, sheet.ph_stripped_low, sheet.ph_stripped_high)
    heat = sheet.heat
    rise = f"in {show_duration(heat.minutes)}, {heat.c_per_min:.1f} °C a minute" if heat.minutes > 0 else "kept there"
    return [
        Figure(
            "Water from the tap",
            show_volume(sheet.tap_water_l),
            f"{show_volume(sheet.liquor_l)} in all, {sheet.liquor_ratio:.3g}:1",
        ),
        Figure("pH, just mixed", closed, f"{stripped} once hot and stirred"),
        Figure("Heat to", show_temperature(heat.to_c), rise),
        Figure("Pot stands full to", show_percent(round(sheet.pot_fill_frac, 2)), _pot_words(sheet)),
    ]


def _pot_words(sheet: Sheet) -> str:
    if len(sheet.pots) > 1:
        return f"the fullest of {len(sheet.pots)} pots"
    return f"of {show_volume(sheet.pots[0].volume_l)}, with the yarn"


def weights_of(sheet: Sheet) -> list[WeightRow]:
    """Return what to weigh and measure: the yarn, each dye, each assistant."""
    several = len(sheet.pots) > 1
    yarn = WeightRow("Yarn, dry", "", show_mass(sheet.dry_g), "", "", [_yarn_share(pot) for pot in sheet.pots])
    rows = [yarn]
    rows += [_dye_row(sheet, i, dye) for i, dye in enumerate(sheet.dyes)]
    rows += [_assistant_row(sheet, i, amount) for i, amount in enumerate(sheet.assistants)]
    rows.append(_water_row(sheet))
    return rows if several else [WeightRow(r.name, r.detail, r.amount, r.other, r.when) for r in rows]


def _yarn_share(pot: PotShare) -> str:
    return show_mass(pot.dry_g) + (f", {pot.skeins} skeins" if pot.skeins else "")


def _dye_row(sheet: Sheet, i: int, dye: DyeAmount) -> WeightRow:
    depth = f"{show_percent(dye.depth_owf)} owf"
    if dye.stock_ml is None or dye.stock_g_l is None:
        grams = show_mass(dye.dye_g, sheet.card.scale_resolution_g)
        return WeightRow(dye.name, depth, grams, "", "powder", [show_mass(pot.dye_g[i]) for pot in sheet.pots])
    return WeightRow(
        dye.name,
        f"{depth}, {show_mass(dye.dye_g)} of dye",
        show_volume(dye.stock_ml / 1000),
        show_mass(dye.stock_g or 0.0),
        f"of {dye.stock_g_l / 10:g} % stock",
        [show_volume((pot.stock_ml[i] or 0.0) / 1000) for pot in sheet.pots],
    )


def _assistant_row(sheet: Sheet, i: int, amount: AssistantAmount) -> WeightRow:
    def show(value: float) -> str:
        return show_volume(value / 1000) if amount.unit == "mL" else show_mass(value)

    reason = "" if amount.target_ph is None else f"to pH {amount.target_ph:g}"
    return WeightRow(
        amount.name[:1].upper() + amount.name[1:],
        reason,
        show(amount.amount),
        amount.kitchen or "",
        f"at {amount.when}"
        if amount.when[0].isdigit()
        else f"in the {amount.when}".replace("in the start", "at the start"),
        [show(pot.assistants[i]) for pot in sheet.pots],
    )


def _water_row(sheet: Sheet) -> WeightRow:
    share = sheet.tap_water_l / sheet.liquor_l
    return WeightRow(
        "Water from the tap",
        f"the wet yarn brings {show_volume(sheet.carried_water_l)}",
        show_volume(sheet.tap_water_l),
        "",
        "first",
        [show_volume(pot.liquor_l * share) for pot in sheet.pots],
    )


def clock(at_min: float | None) -> str:
    """Return minutes from heat on as hours and minutes: "1:30", "−0:25"; "before" for preparation without a time."""
    if at_min is None:
        return "before"
    minutes = round(at_min)
    hours, rest = divmod(abs(minutes), 60)
    return f"{chr(0x2212) if minutes < 0 else ''}{hours}:{rest:02d}"


def step_clock(step: SheetStep) -> str:
    """Return when a step comes: its clock from heat on, "before" for preparation, "after" for what has no hour."""
    if step.at_min is None and step.kind is StepKind.FINISH:
        return "after"
    return clock(step.at_min)


def _folded(steps: Sequence[SheetStep]) -> Iterator[SheetStep]:
    """Yield the steps with rinses of the same words as one: a screen need not say five times what paper ticks off."""
    for _, group in groupby(steps, key=lambda step: step.text if _is_rinse(step) else step.key):
        alike = list(group)
        first, last = alike[0], alike[-1]
        if len(alike) == 1:
            yield first
            continue
        number, of = first.title.removeprefix("Rinse ").split(" of ")
        lasting = sum(step.duration_min or 0.0 for step in alike)
        to = last.title.removeprefix("Rinse ").split(" of ")[0]
        yield replace(first, title=f"Rinse {number} to {to} of {of}", duration_min=lasting)


def _is_rinse(step: SheetStep) -> bool:
    return step.kind is StepKind.RINSE and step.title.startswith("Rinse ")


def _paper_step(step: SheetStep) -> PaperStep:
    lasts = show_duration(step.duration_min) if step.duration_min and step.duration_min >= 1 else None
    return PaperStep(step_clock(step), lasts, step.title, step.text, step.caution)


def sheet_chart(sheet: Sheet, theme: Theme) -> str:
    """Return the expected temperature as SVG, with the additions marked; it ends an hour into the cooling."""
    cooling = next((step.at_min for step in sheet.steps if step.key == "cool"), None)
    end = sheet.t_min[-1] if cooling is None else cooling + COOLING_SHOWN_MIN
    events = [(step.at_min or 0.0, "enter") for step in sheet.steps if step.key == "enter"]
    events += [
        (step.at_min, step.title.removeprefix("Add the "))
        for step in sheet.steps
        if step.at_min is not None and step.key.startswith(("add-", "dye-")) and step.key[4:].isdigit()
    ]
    if cooling is not None:
        events.append((cooling, "heat off"))
    width, height = (680, 100) if theme is Theme.PRINT else (270, 170)
    return temperature_chart(
        sheet.t_min, sheet.bath_c, events, theme=theme, width_px=width, height_px=height, until_min=end
    )
