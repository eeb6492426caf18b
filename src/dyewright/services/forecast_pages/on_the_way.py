"""The colour of the yarn and of its bath while it is being dyed: uptake over time, through the dyer's own swatches."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.colour import colour_words, lab_from_xyz, light_of, xyz_from_reflectance
from dyewright.core.mixing import ShelfModel, lab_of_mix
from dyewright.core.mixing.bath import bath_reflectance
from dyewright.core.model import Forecast, Sheet, When
from dyewright.core.uptake import at_times
from dyewright.data.colour import load_observer_tables
from dyewright.data.uptake import load_uptake
from dyewright.services.bath_colours import dyes_without_swatch, model_of_dyes
from dyewright.services.forecasting.inputs import dye_bath, modelled_dyes
from dyewright.services.shown import shown_hex
from dyewright.sheets.strip import colour_strip
from dyewright.units import show_duration, show_temperature

__all__ = ["OnTheWay", "WayStop", "on_the_way"]

Floats = NDArray[np.float64]

TIMES = 25
STOPS = ((0.25, "¼ in"), (0.5, "½ in"), (0.75, "¾ in"))  # of what goes in in the end
BASIS = (
    "The middle of the forecast through {swatches}. A swatch was dyed to its end, so all that usually goes in counts "
    "as its depth (estimate)."
)


@dataclass(frozen=True)
class WayStop:
    """One moment on the way: what is in, when and how hot, and the yarn's and the bath's colours in words."""

    share: str
    when: str
    yarn_hex: str
    yarn_words: str
    bath_hex: str
    bath_words: str


@dataclass(frozen=True)
class OnTheWay:
    """The strip of colours with its stops and what it rests on; without swatches only what would give it."""

    svg: str | None
    stops: tuple[WayStop, ...]
    basis: str


def on_the_way(session: Session, sheet: Sheet, told: Forecast) -> OnTheWay | None:
    """Return the colours along a forecast; None where not every dye of it has a curve."""
    curves = {dye.name: dye.exhaustion for dye in told.dyes}
    known = {name: curve for name, curve in curves.items() if curve is not None}
    if not known or len(known) < len(sheet.card.dyes):
        return None
    model = model_of_dyes(session, tuple(known))
    if model is None:
        return OnTheWay(None, (), _missing(dyes_without_swatch(session, tuple(known))))
    times = np.linspace(0.0, told.hold_end_min, TIMES)
    stops_min = _stops_min(told)
    at = np.concatenate([times, [minute for _, minute in stops_min]])
    yarn, bath = _labs(model, sheet, told, known, at)
    return OnTheWay(
        svg=colour_strip(_hexes(yarn[:TIMES]), _hexes(bath[:TIMES])),
        stops=tuple(
            WayStop(
                share=share,
                when=f"{show_duration(minute)}, {show_temperature(float(np.interp(minute, told.t_min, told.bath_c)))}",
                yarn_hex=_hexes(yarn[place : place + 1])[0],
                yarn_words=colour_words(yarn[place]),
                bath_hex=_hexes(bath[place : place + 1])[0],
                bath_words=colour_words(bath[place]),
            )
            for place, (share, minute) in enumerate(stops_min, start=TIMES)
        ),
        basis=BASIS.format(swatches=_swatch_words(model, tuple(known))),
    )


def _stops_min(told: Forecast) -> list[tuple[str, float]]:
    """Return the moments to name: the start, quarters of what goes in in the end, and the end of the hold."""
    depths_in = np.mean([dye.exhaustion for dye in told.dyes if dye.exhaustion is not None], axis=0)
    whole = depths_in if told.bath.exhaustion is None else told.bath.exhaustion
    final = float(np.interp(told.hold_end_min, told.t_min, whole))
    moments = [(words, float(told.t_min[np.argmax(whole >= share * final)])) for share, words in STOPS]
    return [("At the start", 0.0), *moments, ("At the end", told.hold_end_min)]


def _labs(
    model: ShelfModel, sheet: Sheet, told: Forecast, curves: Mapping[str, Floats], at_min: Floats
) -> tuple[Floats, Floats]:
    """Return the Lab of the yarn and of the bath at some minutes, each of shape (minutes, 3)."""
    depths = {dye.name: dye.depth_owf for dye in sheet.card.dyes}
    usual, supplied = _usual_uptake(sheet, curves), _supplied(sheet, at_min)
    on_yarn, in_bath = np.zeros((at_min.size, len(model.dyes))), np.zeros((at_min.size, len(model.dyes)))
    for name, curve in curves.items():
        place, taken = model.dyes.index(name), at_times(told.t_min, curve, at_min)
        on_yarn[:, place] = depths[name] * taken / usual[name]
        in_bath[:, place] = depths[name] * np.maximum(supplied.get(name, 1.0) - taken, 0.0)
    tables = load_observer_tables()
    weights, white = light_of(tables, "D65", 10)
    bath = bath_reflectance(model, in_bath, np.ones(at_min.size), sheet.liquor_ratio)
    return lab_of_mix(model, on_yarn, tables), lab_from_xyz(xyz_from_reflectance(bath, weights), white)


def _usual_uptake(sheet: Sheet, curves: Mapping[str, Floats]) -> dict[str, float]:
    """Return what of each dye usually goes in, as its class has it; what goes in here where the class says nothing."""
    modelled = modelled_dyes(sheet, load_uptake())
    usual = {name: float(curve.max()) for name, curve in curves.items()}
    shares = np.array([sheet.card.yarn.fibre_frac[fibre] for fibre in modelled.fibres])
    for place, kinds in zip(modelled.places, modelled.kinds, strict=True):
        by_fibre = np.mean([[row.equilibrium_frac for row in rows] for rows in kinds], axis=0)
        usual[sheet.card.dyes[place].name] = float(by_fibre @ shares / shares.sum())
    return {name: max(share, np.finfo(float).tiny) for name, share in usual.items()}


def _supplied(sheet: Sheet, at_min: Floats) -> dict[str, Floats]:
    """Return how much of each modelled dye is in the pot by then; dyes that go in at once are left out."""
    modelled = modelled_dyes(sheet, load_uptake())
    if all(dye.parts == (When(),) for dye in sheet.card.dyes) or not modelled.places:
        return {}
    bath = dye_bath(sheet, modelled)
    rows = np.clip(np.searchsorted(bath.t_min, at_min, side="right") - 1, 0, None)
    return {sheet.card.dyes[place].name: bath.supplied[n, rows] for n, place in enumerate(modelled.places)}


def _hexes(labs: Floats) -> list[str]:
    return [shown_hex((float(lab[0]), float(lab[1]), float(lab[2]))) for lab in labs]


def _swatch_words(model: ShelfModel, dyes: Sequence[str]) -> str:
    count = sum(model.swatch_counts[model.dyes.index(name)] for name in dyes)
    what = f"{'one swatch' if count == 1 else f'{count} swatches'} of {'this dye' if len(dyes) == 1 else 'these dyes'}"
    return f"{what}, over {model.base}"


def _missing(dyes: Sequence[str]) -> str:
    if not dyes:
        return "A swatch of the undyed yarn would show the yarn's colour on the way."
    names = dyes[0] if len(dyes) == 1 else f"{', '.join(dyes[:-1])} and {dyes[-1]}"
    return f"{'One swatch' if len(dyes) == 1 else 'A swatch each'} of {names} would show the yarn's colour on the way."
