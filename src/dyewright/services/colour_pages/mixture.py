"""A mix as a page shows it: its colour beside the target, its dyes with painted sliders, its grams, how sure it is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dyewright import units
from dyewright.core.colour import (
    REPORTED_LIGHTS,
    colour_words,
    delta_cmc,
    delta_e00,
    difference_words,
    display_hex,
    display_rgb,
    lab_from_xyz,
    light_of,
    visibility_words,
)
from dyewright.core.matching import Target, Weighing, weighing_p95
from dyewright.core.mixing import ShelfModel, band_95, depth_vector, lab_of_mix, next_swatch
from dyewright.core.model import Dye, Lab, ObserverTables
from dyewright.data.colour import load_observer_tables
from dyewright.services.colour_pages.mix_reach import MixReach, mix_reach
from dyewright.services.mix_doses import Dose, dose_of, mix_cost, plan_query
from dyewright.services.shown import LIGHT_WORDS

__all__ = ["LightView", "Mixture", "Slider", "mixture_of"]

SEED = 20261125
TOPS_PERCENT = (0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 4.0)
ROOM = 1.6  # a slider reaches this many times the depth it starts from, at least
WIDE_DE00 = 3.0  # beyond this band a sample comes before the pot (estimate)
STOPS = 13  # colours painted along a slider


@dataclass(frozen=True)
class Slider:
    """One dye of the mix: its depth and its slider's end in per cent, the painted track, and what is known of it.

    `weigh` says how so small a dose is measured; empty where it goes on the scale as powder.
    """

    name: str
    percent: str
    top_percent: float
    track: str
    about: str
    weigh: str


@dataclass(frozen=True)
class LightView:
    """The pair under one light: screen colours, and ΔE00 (None where the target's curve is not known)."""

    key: str
    words: str
    target_hex: str | None
    hex: str
    de00: float | None


@dataclass(frozen=True)
class Mixture:
    """Everything that a page says of one mix; None stands for what a page without target cannot say."""

    base: str
    sliders: tuple[Slider, ...]
    lab: Lab
    hex: str
    words: str
    is_beyond_screen: bool
    target_hex: str
    target_words: str
    target_is_beyond_screen: bool
    de00: float
    decmc21: float
    short_verdict: str
    visible: str
    difference: str
    band: float
    weighing: float
    lights: tuple[LightView, ...]
    doses: tuple[Dose, ...]
    mass: str
    cost: str | None
    plan_query: str
    leans_on: str
    surer: str | None
    reach: MixReach | None
    notes: tuple[str, ...]

    @property
    def is_wide(self) -> bool:
        """Whether a sample should come before the pot."""
        return self.band > WIDE_DE00


def mixture_of(
    shelf: ShelfModel,
    mix: Mapping[str, float],
    target: Target,
    *,
    dyes: Sequence[Dye],
    dry_g: float,
    scale_resolution_g: float,
    tops_percent: Mapping[str, float],
    base_id: int | None = None,
    notes: tuple[str, ...] = (),
) -> Mixture:
    """Return a mix as a page shows it.

    Args:
        shelf: the fitted dyes.
        mix: depth of each dye, fraction on the weight of fibre.
        target: the colour it is compared with.
        dyes: the tubs on the shelf, for class, grams and price.
        dry_g: the yarn.
        scale_resolution_g: the scale's smallest step.
        tops_percent: where a slider ended before, so that it does not jump while it is moved.
        base_id: the base's number in the records, for planning.
        notes: what was left out of the fit.

    Raises:
        InputError: a dye without swatch, or a depth that cannot be.
    """
    tables = load_observer_tables()
    white = tables.whites["D65", 10]
    depths = depth_vector(shelf, mix)
    lab = lab_of_mix(shelf, depths, tables)
    tubs = {dye.name: dye for dye in dyes}
    weighing = Weighing(fibre_mass_g=dry_g, scale_resolution_g=scale_resolution_g)
    doses = [dose_of(name, depth, dry_g, scale_resolution_g) for name, depth in mix.items()]
    decmc21, de00 = float(delta_cmc(target.lab, lab)), float(delta_e00(target.lab, lab))
    return Mixture(
        base=shelf.base,
        sliders=tuple(_slider(shelf, depths, dose, tubs.get(dose.dye), tops_percent, tables) for dose in doses),
        lab=_as_lab(lab),
        hex=display_hex(lab, white),
        words=colour_words(lab),
        is_beyond_screen=bool(display_rgb(lab, white)[1]),
        target_hex=display_hex(target.lab, white),
        target_words=colour_words(target.lab),
        target_is_beyond_screen=bool(display_rgb(target.lab, white)[1]),
        de00=de00,
        decmc21=decmc21,
        short_verdict=_short_verdict(decmc21),
        visible=visibility_words(decmc21),
        difference=difference_words(target.lab, lab),
        band=band_95(shelf, depths, tables),
        weighing=_weighing_p95(shelf, depths, tables, weighing),
        lights=_lights(shelf, depths, target, tables),
        doses=tuple(doses),
        mass=units.show_mass(dry_g),
        cost=mix_cost(mix, tubs, dry_g),
        plan_query=plan_query(mix, dry_g, base_id),
        leans_on=_leans_on(shelf, list(mix)),
        surer=_surer(shelf, depths, tables),
        reach=mix_reach(shelf, mix, target),
        notes=(*notes, *_notes(shelf, mix)),
    )


def _weighing_p95(shelf: ShelfModel, depths: np.ndarray, tables: ObserverTables, weighing: Weighing) -> float:
    """Return what weighing errors stay below in 19 of 20 pots, in ΔE00; drawn alike each time."""
    return weighing_p95(shelf, depths, tables, np.random.default_rng(SEED), weighing)


def _as_lab(lab: np.ndarray) -> Lab:
    return float(lab[0]), float(lab[1]), float(lab[2])


def _short_verdict(decmc21: float) -> str:
    bounds = ((0.5, "The same to the eye."), (1.0, "Close."), (2.0, "Near."), (5.0, "Off."))
    return next((words for bound, words in bounds if decmc21 < bound), "Far off.")


def _slider(
    shelf: ShelfModel,
    depths: np.ndarray,
    dose: Dose,
    tub: Dye | None,
    tops_percent: Mapping[str, float],
    tables: ObserverTables,
) -> Slider:
    name = dose.dye
    place = shelf.dyes.index(name)
    percent = 100 * float(depths[place])
    top = max(tops_percent.get(name, 0.0), _top_percent(percent)) if percent <= 4 else percent
    along = np.repeat(depths[None], STOPS, axis=0)
    along[:, place] = np.linspace(0, top / 100, STOPS)
    colours, _ = display_rgb(lab_of_mix(shelf, along, tables), tables.whites["D65", 10])
    stops = ", ".join("#" + "".join(f"{round(255 * part):02x}" for part in colour) for colour in colours.tolist())
    return Slider(
        name=name,
        percent=f"{percent:.3g}",
        top_percent=top,
        track=f"linear-gradient(to right, {stops})",
        about=_about(shelf, place, tub),
        weigh=dose.why,
    )


def _top_percent(percent: float) -> float:
    return next((top for top in TOPS_PERCENT if top >= ROOM * percent), TOPS_PERCENT[-1])


def _about(shelf: ShelfModel, place: int, tub: Dye | None) -> str:
    count = shelf.swatch_counts[place]
    parts = [str(tub.dye_class)] if tub else []
    if tub and tub.on_shelf_g is not None:
        parts.append(f"{units.show_mass(float(tub.on_shelf_g))} on the shelf")
    if tub and tub.is_blend:
        parts.append("a blend")
    parts.append("one swatch" if count == 1 else f"{count} swatches, fitted to {shelf.fit_de00[place]:.1f}")
    return " · ".join(parts)


def _lights(shelf: ShelfModel, depths: np.ndarray, target: Target, tables: ObserverTables) -> tuple[LightView, ...]:
    """Return the pair under daylight and the other lights, each shown as an eye used to that light sees it."""
    day_white = tables.whites["D65", 10]
    views = []
    for key in ("D65", *REPORTED_LIGHTS):
        weights, white = light_of(tables, key, 10)
        lab = lab_of_mix(shelf, depths, tables, illuminant=key)
        goal: Lab | None = target.lab if key == "D65" else None
        if goal is None and target.reflectance is not None:
            goal = _as_lab(lab_from_xyz(target.reflectance @ weights, white))
        views.append(
            LightView(
                key=key,
                words=LIGHT_WORDS[key],
                target_hex=None if goal is None else display_hex(goal, day_white),
                hex=display_hex(lab, day_white),
                de00=None if goal is None else float(delta_e00(goal, lab)),
            )
        )
    return tuple(views)


def _leans_on(shelf: ShelfModel, names: Sequence[str]) -> str:
    if not names:
        return "the undyed base as it was measured"
    counts = [shelf.swatch_counts[shelf.dyes.index(name)] for name in names]
    many, of = sum(counts), "this dye" if len(names) == 1 else f"these {len(names)} dyes"
    return f"fitted from {'one swatch' if many == 1 else f'{many} swatches'} of {of}"


def _surer(shelf: ShelfModel, depths: np.ndarray, tables: ObserverTables) -> str | None:
    advice = next_swatch(shelf, depths, tables)
    if advice is None:
        return None
    return (
        f"Dye one swatch of {advice.dye} at {100 * advice.depth_owf:g} % on this base: "
        f"the band narrows from ± {advice.band_now:.1f} to ± {advice.band_after:.1f}."
    )


def _notes(shelf: ShelfModel, mix: Mapping[str, float]) -> tuple[str, ...]:
    notes = [note for note in shelf.notes if "name another" not in note]
    for name, depth in mix.items():
        deepest = shelf.deepest_owf[shelf.dyes.index(name)]
        if depth > 1.05 * deepest:
            notes.append(
                f"{name} at {100 * depth:.2g} % is deeper than its deepest swatch ({100 * deepest:.2g} %): "
                "dark shades come out lighter than foretold"
            )
    if not shelf.is_spectral:
        notes.append("some swatches are known by their Lab only: colours under other light are less sure")
    return tuple(notes)
