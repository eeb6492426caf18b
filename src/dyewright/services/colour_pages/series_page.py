"""The page of series: its ends, its skeins edge to edge, and what each skein's doses weigh."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.bath import stock_hint, stock_volume_l, weigh_as
from dyewright.core.model import Settings, Weigh
from dyewright.errors import InputError
from dyewright.records import colourways as colourways_of
from dyewright.records import shelf as shelf_of
from dyewright.services.colour_pages.bench import Asked, dry_yarn_g
from dyewright.services.colour_targets import Chip, colour_chips, wanted_colour
from dyewright.services.mix_doses import LEAST_STOCK_G, Dose, dose_of, plan_query
from dyewright.services.series import (
    End,
    SeriesSkein,
    SkeinSeries,
    corners_from_text,
    grid_on,
    is_mix,
    mix_end,
    series_on,
)
from dyewright.services.shelf_model import StudioShelf, studio_shelf
from dyewright.services.shown import shown_hex, shown_words

__all__ = ["SeriesPage", "series_page", "series_view"]

SKEINS, SIDE = "7", "5"
WEIGHT = "10 g"  # a mini-skein (common practice, no source)
NUMBERED = 12  # skeins of one row that are wide enough on a phone for their number
BLACK_FROM_L = 50.0  # WCAG 2.2, contrast: black and white differ alike from a luminance of 0.18, which is L* 49.5


@dataclass(frozen=True)
class DosedSkein:
    """One skein with what its dyes weigh, and the planning page's address part for it."""

    skein: SeriesSkein
    doses: tuple[Dose, ...]
    plan_query: str

    @property
    def ink(self) -> str:
        """What its number is written in, to be read on its colour."""
        return "black" if self.skein.lab[0] >= BLACK_FROM_L else "white"


@dataclass(frozen=True)
class SeriesPage:
    """A series as its page shows it: rows of skeins, the stocks that all of them take, and what was left out."""

    found: SkeinSeries
    rows: tuple[tuple[DosedSkein, ...], ...]
    stocks: tuple[str, ...]
    mass: str
    verdict: str
    notes: tuple[str, ...]

    @property
    def skeins(self) -> tuple[DosedSkein, ...]:
        """All skeins, in their order."""
        return tuple(skein for row in self.rows for skein in row)

    @property
    def is_numbered(self) -> bool:
        """Whether every square bears its number: those of a triangle always, those of a row where they are few."""
        return len(self.rows) > 1 or len(self.rows[0]) <= NUMBERED


def series_view(session: Session) -> dict[str, object]:
    """Return what ends can be taken from: colourways, lots and swatches on record; bases and dyes."""
    lots, swatches = colour_chips(session)
    kept = [
        Chip(one.name, f"colourway {one.id}", "", shown_hex(one.predicted_lab), shown_words(one.predicted_lab))
        for one in colourways_of.colourways(session)
    ]
    return {
        "bases": [base.name for base in shelf_of.bases(session)],
        "dyes": _swatched(session),
        "chips": [*kept, *lots, *swatches],
    }


def _swatched(session: Session) -> list[str]:
    try:
        return list(studio_shelf(session, None).model.dyes)
    except InputError:  # nothing to be fitted yet: the page itself says what is missing
        return []


def series_page(session: Session, asked: Asked) -> SeriesPage | None:
    """Return a series; None while its ends are still to be said.

    Raises:
        InputError: a field cannot be worked with; it is named.
        NoMatchError: no mix helps towards an end.
    """
    is_grid = asked.get("shape") == "grid"
    if not is_grid and not (asked.get("from", "").strip() and asked.get("to", "").strip()):
        return None
    shelf = studio_shelf(session, asked.get("base", "").strip() or None)
    base = shelf_of.base_named(session, shelf.model.base)
    dry_g = dry_yarn_g(asked.get("weight", "").strip() or WEIGHT, base)
    settings = shelf_of.studio_settings(session) or Settings(name="")
    found = _grid(shelf, asked) if is_grid else _line(session, shelf, asked)
    dosed = {
        skein.number: _dosed(skein, dry_g, settings.scale_resolution_g, base.id if base else None)
        for skein in found.skeins
    }
    return SeriesPage(
        found=found,
        rows=tuple(tuple(dosed[skein.number] for skein in row) for row in found.rows),
        stocks=_stocks(found, dry_g, settings.scale_resolution_g),
        mass=units.show_mass(dry_g),
        verdict=_verdict(found),
        notes=(*_too_little(found, dry_g), *shelf.left_out, *found.notes),
    )


def _too_little(found: SkeinSeries, dry_g: float) -> tuple[str, ...]:
    """Return which skeins take less of a dye than can be measured, and the yarn from which they would not."""
    short = [
        (skein.number, depth)
        for skein in found.skeins
        for depth in _mix(skein).values()
        if depth * dry_g < LEAST_STOCK_G * (1 - 1e-9)
    ]
    if not short:
        return ()
    numbers = list(dict.fromkeys(str(number) for number, _ in short))
    whole = "skein " if len(numbers) == 1 else "skeins "
    enough = units.show_mass(LEAST_STOCK_G / min(depth for _, depth in short))
    said = (
        f"{whole}{', '.join(numbers)}: a dye comes to less than 5\u00a0mL of the weakest stock and cannot be measured "
        f"well; {enough} of yarn each would be enough"
    )
    return (said,)


def _line(session: Session, shelf: StudioShelf, asked: Asked) -> SkeinSeries:
    start, end = (_end(session, asked.get(field, ""), field) for field in ("from", "to"))
    return series_on(shelf.model, start, end, _count(asked.get("skeins", "").strip() or SKEINS, "skeins"))


def _end(session: Session, text: str, field: str) -> End:
    """Return an end: a recipe, the recipe of a colourway, or a colour."""
    kind, _, rest = text.strip().partition(" ")
    if kind.lower() == "colourway" and rest.strip().isdecimal():
        return dict(colourways_of.colourway(session, int(rest)).recipe_owf)
    if not is_mix(text):
        return wanted_colour(session, text, field=field).target
    try:
        return mix_end(text)
    except InputError as error:
        raise InputError(error.message, field=field, value=error.value, limit=error.limit) from error


def _grid(shelf: StudioShelf, asked: Asked) -> SkeinSeries:
    parts = []
    for corner in ("a", "b", "c"):
        name, depth = asked.get(corner, "").strip(), asked.get(f"{corner}-depth", "").strip().removesuffix("%")
        if not name:
            raise InputError("choose a dye for each corner of the triangle", field=corner)
        parts.append(f"{name}={depth.replace(',', '.').strip() or '1'}")
    try:
        corners = corners_from_text(",".join(parts))
    except InputError as error:
        raise InputError(error.message, field="a", value=error.value, limit=error.limit) from error
    return grid_on(shelf.model, corners, _count(asked.get("side", "").strip() or SIDE, "side"))


def _count(text: str, field: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise InputError(f"{text!r} is no number of skeins: write one such as 7", field=field, value=text) from None


def _dosed(skein: SeriesSkein, dry_g: float, scale_resolution_g: float, base_id: int | None) -> DosedSkein:
    mix = _mix(skein)
    doses = tuple(dose_of(name, depth, dry_g, scale_resolution_g) for name, depth in mix.items())
    return DosedSkein(skein, doses, plan_query(mix, dry_g, base_id))


def _mix(skein: SeriesSkein) -> Mapping[str, float]:
    return {dye.name: dye.depth_percent / 100 for dye in skein.dyes}


def _stocks(found: SkeinSeries, dry_g: float, scale_resolution_g: float) -> tuple[str, ...]:
    """Return the stock solutions that all skeins together take, dye by dye, the strongest first."""
    needed: dict[tuple[str, float], float] = {}
    for skein in found.skeins:
        for name, depth in _mix(skein).items():
            dye_g = depth * dry_g
            if weigh_as(dye_g, scale_resolution_g) is Weigh.STOCK:
                strength = stock_hint(dye_g, scale_resolution_g).stock_g_l
                needed[name, strength] = needed.get((name, strength), 0.0) + stock_volume_l(dye_g, strength)
    ordered = sorted(needed.items(), key=lambda item: (item[0][0], -item[0][1]))
    return tuple(
        f"{name} {strength / 10:g}\u00a0%: {units.show_volume(litres)}" for (name, strength), litres in ordered
    )


def _verdict(found: SkeinSeries) -> str:
    least, most = f"{found.least_step_de00:.1f}", f"{found.most_step_de00:.1f}"
    count = len(found.skeins)
    if least == most:
        return f"{count} skeins, each ΔE00 {least} from the next."
    return f"{count} skeins, neighbours ΔE00 {least} to {most} apart."
