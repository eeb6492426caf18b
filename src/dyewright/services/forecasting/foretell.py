"""The forecast of one dyeing: the plan's pot joined with the uptake of its dyes."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import (
    Band,
    Basis,
    Card,
    ClearTime,
    DyeClass,
    DyeForecast,
    Forecast,
    Learnt,
    Observed,
    Settings,
    Sheet,
    Substance,
)
from dyewright.core.uptake import (
    SURE_PH,
    Drawn,
    Outlook,
    clear_time,
    even_weights,
    first_reached_min,
    quantile_band,
    value_band,
)
from dyewright.data.uptake import load_uptake
from dyewright.services.forecasting.advice import with_advice
from dyewright.services.forecasting.after_bath import after_bath, with_after_bath, with_felting
from dyewright.services.forecasting.cotton import CottonPot, bonds_all_on_cellulose, cotton_wash, with_cotton
from dyewright.services.forecasting.evenness import level_and_breaking
from dyewright.services.forecasting.grounds import bands_note, basis_of, rests_on
from dyewright.services.forecasting.inputs import (
    SALT_CHARGES_PER_G,
    SAMPLES,
    ModelledDyes,
    dye_bath,
    hold_end_min,
    modelled_dyes,
    planned_course,
)
from dyewright.services.forecasting.looking import drawn_for, watched
from dyewright.services.forecasting.readings import doubts_of, seen_notes
from dyewright.services.forecasting.rinsing import Washed, expected_waters
from dyewright.services.planning import plan
from dyewright.units import show_percent, show_temperature

__all__ = ["clear_foretold", "forecast", "forecast_from", "rinses_foretold"]

Floats = NDArray[np.float64]

NOTHING_SEEN = Observed()
SEED = 20261125  # any number does: it only makes the same card give the same forecast
WORTH_SAYING_FRAC, WORTH_SAYING_C = 0.005, 5.0  # smaller shares and cooler ends need no sentence
MOSTLY_CLEAR = 0.75  # common practice, no source

UNUSED_READING = "What was seen in the bath is kept, but there is no curve here for it to change."
NO_CURVE = DyeForecast("bath", None, None, None)
NO_BAND = Band(mid=None, low=None, high=None)
NO_ANSWER = ClearTime(mid=None, low=None, high=None, never_frac=None)


def forecast(
    card: Card,
    observed: Observed = NOTHING_SEEN,
    *,
    learnt: Learnt | None = None,
    seed: int = SEED,
    settings: Settings | None = None,
) -> Forecast:
    """Return what a card's dyeing is expected to do, updated by what was seen in the bath.

    Raises:
        InputError: the card cannot be planned, or a reading lies outside 0 to 1 or outside the forecast's time.
    """
    return forecast_from(plan(card, settings), observed, learnt=learnt, seed=seed)


def forecast_from(
    sheet: Sheet,
    observed: Observed = NOTHING_SEEN,
    *,
    learnt: Learnt | None = None,
    seed: int = SEED,
    is_advised: bool = True,
) -> Forecast:
    """Return the forecast of a sheet that is already planned; see `forecast`.

    Without advice on what to change it takes half the time.
    """
    tables = load_uptake()
    modelled = modelled_dyes(sheet, tables)
    if bonds_all_on_cellulose(sheet):
        told = _without_model(sheet, replace(modelled, left_out=()), NOTHING_SEEN)
        return with_cotton(told, sheet, observed, seed=seed)
    if not modelled.places:
        return with_felting(_without_model(sheet, modelled, observed), sheet)

    def wash(drawn: Drawn) -> Washed:
        return after_bath(sheet, modelled, drawn.outlook, drawn.ensemble, seed)

    def whole(drawn: Drawn, weights: Floats) -> Forecast:
        return with_after_bath(_told(sheet, modelled, drawn.outlook, weights, learnt), wash(drawn), weights)

    planned = planned_course(sheet)
    first = drawn_for(sheet, modelled, planned, learnt=learnt, seed=seed)
    before = whole(first, even_weights(SAMPLES))
    if observed.is_empty:
        return with_advice(before, sheet, modelled, learnt) if is_advised else before
    seen = watched(sheet, modelled, observed, wash, first, learnt=learnt, seed=seed)
    after = whole(seen.followed.drawn, seen.followed.weights)
    return replace(
        after,
        basis=Basis.FITTED,
        notes=(*seen_notes(seen, is_whole=len(modelled.places) == len(sheet.card.dyes)), *after.notes),
        observed=observed,
        before=before,
        doubts=doubts_of(observed, seen, planned, dye_bath(sheet, modelled)),
    )


def clear_foretold(sheet: Sheet, *, learnt: Learnt | None = None, seed: int = SEED) -> ClearTime:
    """Return when the forecast of a sheet expects its bath clear: the same as the forecast's own, without the rest."""
    modelled = modelled_dyes(sheet, load_uptake())
    if not modelled.places or len(modelled.places) < len(sheet.card.dyes):
        return NO_ANSWER
    outlook = drawn_for(sheet, modelled, planned_course(sheet), learnt=learnt, seed=seed).outlook
    return clear_time(_reached_min(outlook, outlook.clear_goal), even_weights(SAMPLES))


def rinses_foretold(sheet: Sheet, *, learnt: Learnt | None = None, seed: int = SEED) -> int | None:
    """Return how many waters the forecast of a sheet expects; None where it does not know.

    The same number as the forecast's own, without the rest of it.
    """
    if bonds_all_on_cellulose(sheet):
        wash = cotton_wash(sheet, CottonPot(planned_course(sheet)), seed=seed)
        return expected_waters(wash, even_weights(SAMPLES))
    modelled = modelled_dyes(sheet, load_uptake())
    if len(modelled.places) < len(sheet.card.dyes):
        return None
    drawn = drawn_for(sheet, modelled, planned_course(sheet), learnt=learnt, seed=seed)
    return expected_waters(after_bath(sheet, modelled, drawn.outlook, drawn.ensemble, seed), even_weights(SAMPLES))


def _without_model(sheet: Sheet, modelled: ModelledDyes, observed: Observed) -> Forecast:
    """Return a forecast that says which dyes it cannot foretell, and nothing else."""
    return Forecast(
        title=sheet.title,
        t_min=np.asarray(sheet.t_min, float),
        bath_c=np.asarray(sheet.bath_c, float),
        dyes=tuple(DyeForecast(dye.name, None, None, None) for dye in sheet.card.dyes),
        bath=NO_CURVE,
        clear_exhaustion=None,
        hold_end_min=hold_end_min(sheet),
        clear_at_min=NO_ANSWER,
        mostly_clear_at_min=NO_ANSWER,
        cooled_clear_frac=None,
        final_exhaustion=NO_BAND,
        level=None,
        breaking=None,
        basis=Basis.DEFAULT,
        notes=(*modelled.left_out, *([UNUSED_READING] if not observed.is_empty else [])),
        observed=observed,
    )


def _told(sheet: Sheet, modelled: ModelledDyes, outlook: Outlook, weights: Floats, learnt: Learnt | None) -> Forecast:
    """Return the forecast that the weighed samples give."""
    level, broken = level_and_breaking(sheet, modelled, outlook, weights, learnt)
    is_whole = len(modelled.places) == len(sheet.card.dyes)
    curves = quantile_band(outlook.exhaustion, weights)
    clear = clear_time(_reached_min(outlook, outlook.clear_goal), weights)
    mostly = clear_time(_reached_min(outlook, MOSTLY_CLEAR), weights)
    return Forecast(
        title=sheet.title,
        t_min=outlook.t_min,
        bath_c=outlook.bath_c,
        dyes=_dye_forecasts(sheet, modelled, curves),
        bath=_banded("bath", quantile_band(outlook.bath, weights))
        if is_whole
        else DyeForecast("bath", None, None, None),
        clear_exhaustion=float(np.median(outlook.clear_goal)) if is_whole else None,
        hold_end_min=outlook.hold_end_min,
        clear_at_min=clear if is_whole else NO_ANSWER,
        mostly_clear_at_min=mostly if is_whole else NO_ANSWER,
        cooled_clear_frac=_cooled_clear_frac(outlook, weights) if is_whole else None,
        final_exhaustion=value_band(outlook.bath[:, -1], weights) if is_whole else NO_BAND,
        level=level,
        breaking=broken,
        basis=basis_of(learnt),
        notes=(*_notes(sheet, modelled, outlook, clear if is_whole else NO_ANSWER, weights), bands_note(learnt)),
        rests_on=rests_on(sheet, modelled, learnt),
    )


def _reached_min(outlook: Outlook, goal: Floats | float) -> Floats:
    """Return when each sample's bath has given up so much, all its dye being in the pot, with the hold continued."""
    return first_reached_min(outlook.held_min, outlook.held, goal, from_min=outlook.all_in_min)


def _banded(name: str, curves: Floats) -> DyeForecast:
    low, mid, high = curves
    return DyeForecast(name=name, exhaustion=mid, low=low, high=high)


def _dye_forecasts(sheet: Sheet, modelled: ModelledDyes, curves: Floats) -> tuple[DyeForecast, ...]:
    """Return a forecast for every dye of the card in its order, empty for those without a model."""
    places = {place: n for n, place in enumerate(modelled.places)}
    return tuple(
        _banded(dye.name, curves[:, places[i]]) if i in places else DyeForecast(dye.name, None, None, None)
        for i, dye in enumerate(sheet.card.dyes)
    )


def _notes(
    sheet: Sheet, modelled: ModelledDyes, outlook: Outlook, clear: ClearTime, weights: Floats
) -> tuple[str, ...]:
    """Return what the forecast rests on and leaves out."""
    card = sheet.card
    notes = [*modelled.left_out, *([] if modelled.has_direct else _ph_notes(sheet))]
    notes += _slow_notes(outlook, clear, _cooled_clear_frac(outlook, weights))
    if clear.mid is not None and clear.mid > outlook.hold_end_min:
        notes.append("The bath is expected to clear only if the last hold is made longer than planned.")
    unknown = [dye.name for dye in card.dyes if dye.dye_class is DyeClass.ACID_UNKNOWN]
    if unknown:
        notes.append(f"{' and '.join(unknown)}: the kind of acid dye is not known, so all three kinds are in the band.")
    if modelled.has_direct and not any(dose.substance in SALT_CHARGES_PER_G for dose in card.assistants):
        notes.append("Direct dyes are forecast as dyed with salt: without it less goes in than the curve says.")
    if any(dye.dye_class.is_reactive for dye in card.dyes):
        notes.append("A reactive bath that looks clear still bleeds: plan several rinses.")
    if any(dose.substance is Substance.LEVELLING_AGENT for dose in card.assistants):
        notes.append("The levelling agent's slowing counts in the levelness (estimate), not in the curve.")
    if len(card.pots) > 1:
        notes.append("The forecast follows the slowest pot.")
    if card.is_tonal_wanted:
        notes.append("Tonal skeins are wanted: an uneven strike is then the effect, not a fault.")
    return tuple(notes)


def _ph_notes(sheet: Sheet) -> list[str]:
    """Return that the bath lies outside the model, where it does: it gives a curve at any pH."""
    low, high = SURE_PH
    found = [ph for ph in (sheet.ph_closed, sheet.ph_stripped) if ph is not None and not low <= ph <= high]
    if not found:
        return []
    why = "acid dyes come off again in alkali, and the curve does not know it" if found[0] > high else "it is a guess"
    return [f"At pH {found[0]:.1f} the bath lies outside what the curve was made for (pH {low:g} to {high:g}): {why}."]


def _slow_notes(outlook: Outlook, clear: ClearTime, cooled_clear_frac: float) -> list[str]:
    """Return how often the bath does not clear while hot, and what cooling does to that."""
    if clear.never_frac is None or clear.never_frac < WORTH_SAYING_FRAC:
        return []
    hot = (
        f"In {show_percent(round(clear.never_frac, 2))} of cases the bath does not clear hot within "
        f"{outlook.held_min[-1]:.0f} min"
    )
    end_c = float(outlook.bath_c[-1])
    if end_c > outlook.bath_c.max() - WORTH_SAYING_C:
        return [f"{hot}."]
    cooled = show_percent(round(cooled_clear_frac, 2))
    return [f"{hot}; cooled under the lid to {show_temperature(end_c)} it is clear in {cooled}."]


def _cooled_clear_frac(outlook: Outlook, weights: Floats) -> float:
    """Return the share of samples whose bath is clear when the plan ends."""
    return float(min(1.0, weights[outlook.bath[:, -1] >= outlook.clear_goal].sum()))
