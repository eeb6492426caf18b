"""How many waters a dyeing wants until one is clear, and cheaper or gentler ways to the same."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core import bath
from dyewright.core.model import Drain, Fibre, Handling, Rinse, RinseWater, Sheet, WashOff, WashWay
from dyewright.core.rinse import (
    COUNTED_UP,
    SPOTLESS_SHARE,
    Drained,
    WashDraws,
    as_counted,
    draw_wash,
    dye_in_waters_mg_l,
    held_back_l_kg,
    waters_needed,
    whole_waters,
)
from dyewright.core.uptake import Look, value_band
from dyewright.data.practice import load_fibre_waters
from dyewright.services.forecasting.felting import Handled, handled_index, susceptibility_frac
from dyewright.services.forecasting.fixing import MG_A_KG, Dyed
from dyewright.services.rinse_waters import bonds_on_cellulose, bonds_on_protein, is_after_treated, rinse_kind
from dyewright.units import show_temperature, show_volume

__all__ = ["Washed", "expected_waters", "rinse_look", "wash_off", "washed", "waters_of"]

Floats = NDArray[np.float64]

MOST_WATERS = 16  # computed one by one; beyond, the dye is taken to fall on by the same factor
RINSE_SD = 0.6  # of a count of waters: half a water from rounding, and the eye; estimate
MOST_RINSES = 10.0  # a slip in counting may land anywhere below
LEAST_WATER_L_KG = 8.0  # estimate: in less a skein cannot be moved
WATER_SHARES = (1.0, 0.75, 0.5)  # of the planned water, tried for a cheaper way
MORE_WATERS = 2  # a cheaper way may ask for so many waters more than planned
HANDLED_WORDS = {
    Handling.STILL: "lying still",
    Handling.LIFTED: "lifted, not swished",
    Handling.SWISHED: "swished",
    Handling.UNDER_THE_TAP: "under the tap",
}
VINEGAR = (
    "Vinegar in a rinse does not keep wool from felting: wool felts more in acid than in water (Nature 154 (1944) "
    "772). It is of use after ammonia, which it neutralises."
)
DEEP_LOOSE_OWF = 0.002  # loose dye from which an after-treatment is offered; estimate
WORTH_CHANGING, WORTH_FELTING = 0.9, 0.95  # litres and felting must fall at least to this share of the planned way's


@dataclass(frozen=True)
class Washed:
    """What a sheet's yarn has to wash out, in samples, and the draws of how it does."""

    sheet: Sheet
    dyed: Dyed
    draws: WashDraws


def washed(sheet: Sheet, dyed: Dyed, rng: np.random.Generator | None = None) -> Washed:
    """Return what is to be washed out of the dyed yarn; the middle of every range where there is no generator."""
    return Washed(sheet, dyed, draw_wash(dyed.exhaustion.shape[0], rng))


def waters_of(wash: Washed) -> Floats:
    """Return which water of the planned way is the first clear one, as a number that moves smoothly, for each sample.

    For learning: a count of waters is this, rounded up.
    """
    return waters_needed(_dye_mg_l(wash, wash.sheet.card.rinse), wash.draws.clear_mg_l())


def expected_waters(wash: Washed, weights: Floats) -> int:
    """Return how many waters of the planned way to expect: the middle of the band."""
    return int(value_band(whole_waters(waters_of(wash)), weights).mid or 1)


def rinse_look(rinses: int, wash: Washed) -> Look:
    """Return a count of waters, the first clear one included, as a look at the samples.

    Args:
        rinses: as counted.
        wash: what each sample has to wash out.
    """
    shown = as_counted(waters_of(wash), rinses)
    return Look("rinses", shown, rinses - COUNTED_UP, RINSE_SD, range_wide=MOST_RINSES)


def wash_off(wash: Washed, weights: Floats) -> WashOff:
    """Return what there is to wash out and the ways to do it.

    Args:
        wash: see `washed`.
        weights: of the samples, adding up to 1.
    """
    rinse = wash.sheet.card.rinse
    unfixed = value_band(_loose_mg_kg(wash, rinse).sum(axis=1) / MG_A_KG, weights)
    planned = _way("As planned", wash, rinse, weights)
    spotless = waters_needed(_dye_mg_l(wash, rinse), SPOTLESS_SHARE * wash.draws.clear_mg_l())
    return WashOff(
        unfixed_owf=unfixed.mid,
        unfixed=unfixed,
        rinses=planned.rinses,
        rinse_litres=planned.litres,
        spotless=value_band(whole_waters(spotless), weights),
        planned=planned,
        cheaper=_cheaper(wash, planned, weights),
        gentler=_gentler(wash, planned, weights),
        notes=_notes(wash, unfixed.mid or 0.0),
    )


def _dry_kg(sheet: Sheet) -> float:
    return sheet.dry_g / 1000.0


def _water_l_kg(sheet: Sheet, rinse: Rinse) -> float:
    """Return the fresh water of one rinse, L/kg: the dye bath's volume where the card names none."""
    return (rinse.water_l or sheet.liquor_l) / _dry_kg(sheet)


def _kept_l_kg(wash: Washed, rinse: Rinse) -> Floats:
    """Return what the drained yarn keeps; a weighed skein speaks for its own way to drain, in proportion for others."""
    said, yarn, waters = wash.sheet.card.rinse, wash.sheet.card.yarn, load_fibre_waters()
    usual = bath.retention_l_kg(yarn, rinse.drain, waters)
    if said.kept_l_kg is None:
        return wash.draws.kept_l_kg(usual, is_weighed=False)
    hand = said.kept_l_kg / bath.retention_l_kg(yarn, said.drain, waters)
    return wash.draws.kept_l_kg(usual * hand, is_weighed=True)


def _loose_mg_kg(wash: Washed, rinse: Rinse) -> Floats:
    """Return the dye that can come off the drained yarn, mg/kg, shape (samples, dyes)."""
    dyed, sheet = wash.dyed, wash.sheet
    loose = dyed.loose_mg_kg
    if is_after_treated(sheet.card):
        loose = loose * wash.draws.after_treated_frac()[:, None]
    carried = _kept_l_kg(wash, rinse)[:, None] * dyed.spent_mg_l(sheet.liquor_ratio) * dyed.carried_factor
    return loose + carried


def _dye_mg_l(wash: Washed, rinse: Rinse) -> Floats:
    """Return the dye in each water, mg/L, shape (samples, waters)."""
    card = replace(wash.sheet.card, rinse=rinse)
    kinds = [rinse_kind(card, number, wash.sheet.bath_c[-1]) for number in range(1, MOST_WATERS + 1)]
    at_cs = [kind.at_c for kind in kinds]
    is_cellulose = bonds_on_cellulose(card)
    held = {at_c: held_back_l_kg(wash.draws.held_back, at_c, is_cellulose=is_cellulose) for at_c in set(at_cs)}
    back = np.stack([held[at_c] for at_c in at_cs], axis=-1)[:, None, :] * wash.dyed.is_bonding[:, None]
    drained = Drained(
        load_mg_kg=_loose_mg_kg(wash, rinse),
        kept_l_kg=_kept_l_kg(wash, rinse),
        efficiency_frac=wash.draws.efficiency_frac(rinse.handling),
    )
    return dye_in_waters_mg_l(drained, _water_l_kg(wash.sheet, rinse), back)


def _way(title: str, wash: Washed, rinse: Rinse, weights: Floats) -> WashWay:
    """Return a whole way to rinse."""
    dye_mg_l = _dye_mg_l(wash, rinse)
    rinses = value_band(whole_waters(waters_needed(dye_mg_l, wash.draws.clear_mg_l())), weights)
    count = int(rinses.mid or 1)
    litres = _water_l_kg(wash.sheet, rinse) * _dry_kg(wash.sheet)
    return WashWay(
        title=title,
        drain=rinse.drain,
        handling=rinse.handling,
        rinses=rinses,
        litres=count * litres,
        felting_index=round(handled_index(wash.sheet, Handled(rinse, count)), 3),
        waters=tuple(_water(wash, rinse, number, dye_mg_l, weights) for number in range(1, count + 1)),
    )


def _water(wash: Washed, rinse: Rinse, number: int, dye_mg_l: Floats, weights: Floats) -> RinseWater:
    kind = rinse_kind(replace(wash.sheet.card, rinse=rinse), number, wash.sheet.bath_c[-1])
    shown = value_band(dye_mg_l[:, min(number, MOST_WATERS) - 1], weights)
    return RinseWater(
        litres=_water_l_kg(wash.sheet, rinse) * _dry_kg(wash.sheet),
        at_c=kind.at_c,
        has_soap=kind.has_soap,
        what_for=kind.what_for,
        dye_mg_l=shown,
    )


def _cheaper(wash: Washed, planned: WashWay, weights: Floats) -> WashWay | None:
    """Return the way that uses least water among a few, where it saves a tenth or more."""
    ways = [_way(_otherwise(wash.sheet, rinse), wash, rinse, weights) for rinse in _thriftier(wash)]
    most = (planned.rinses.mid or 1) + MORE_WATERS
    fitting = [way for way in ways if (way.rinses.mid or 1) <= most and way.litres <= WORTH_CHANGING * planned.litres]
    return min(fitting, key=lambda way: (way.litres, way.rinses.mid or 1), default=None)


def _thriftier(wash: Washed) -> Iterator[Rinse]:
    """Yield rinses with less water a time, drained better, or hot where the card says cold."""
    said, sheet = wash.sheet.card.rinse, wash.sheet
    litres = said.water_l or sheet.liquor_l
    drains = list(Drain)[list(Drain).index(said.drain) :]
    warmths = [said.at_c] if said.at_c is None or not bonds_on_cellulose(sheet.card) else [said.at_c, None]
    for share in WATER_SHARES:
        if share * litres < LEAST_WATER_L_KG * _dry_kg(sheet) and share < 1:
            continue
        for drain in drains:
            for at_c in warmths:
                rinse = replace(said, water_l=share * litres, drain=drain, at_c=at_c)
                if (share, drain, at_c) != (1.0, said.drain, said.at_c):
                    yield rinse


def _gentler(wash: Washed, planned: WashWay, weights: Floats) -> WashWay | None:
    """Return the way that felts least among a few, where it is worth it; None for yarn that does not felt."""
    if susceptibility_frac(wash.sheet) <= 0:
        return None
    ways = [_way(_otherwise(wash.sheet, rinse), wash, rinse, weights) for rinse in _softer(wash)]
    best = min(ways, key=lambda way: way.felting_index or 0.0)
    return best if (best.felting_index or 0.0) <= WORTH_FELTING * (planned.felting_index or 0.0) else None


def _softer(wash: Washed) -> Iterator[Rinse]:
    said = wash.sheet.card.rinse
    cool_c = min(25.0, wash.sheet.bath_c[-1]) if said.at_c is None else min(25.0, said.at_c)
    for handling in (Handling.LIFTED, Handling.STILL):
        for drain in (said.drain, Drain.SPUN):
            for at_c in (said.at_c, cool_c):
                rinse = replace(said, handling=handling, drain=drain, at_c=at_c)
                if rinse != said:
                    yield rinse


def _otherwise(sheet: Sheet, rinse: Rinse) -> str:
    """Return what a rinse does otherwise than the card's, in words."""
    said = sheet.card.rinse
    parts = []
    if rinse.drain is not said.drain:
        parts.append(f"{rinse.drain.value} between the rinses")
    if rinse.handling is not said.handling:
        parts.append(HANDLED_WORDS[rinse.handling])
    if rinse.at_c != said.at_c:
        parts.append("as warm as usual" if rinse.at_c is None else f"at {show_temperature(rinse.at_c)}")
    if rinse.water_l is not None and rinse.water_l != (said.water_l or sheet.liquor_l):
        parts.append(f"{show_volume(rinse.water_l)} each")
    words = ", ".join(parts)
    return words[:1].upper() + words[1:]


def _notes(wash: Washed, loose_owf: float) -> tuple[str, ...]:
    """Return what to know of the waters."""
    notes = []
    rinse, yarn = wash.sheet.card.rinse, wash.sheet.card.yarn
    if rinse.kept_l_kg is None:
        kept = bath.retention_l_kg(yarn, rinse.drain, load_fibre_waters())
        notes.append(
            f"How much liquor {rinse.drain.value} yarn keeps is an estimate, {kept:.1f} L a kilogram: weigh one wet "
            "skein and give it, (wet - dry) / dry."
        )
    if wash.dyed.is_bonding.any() and not bonds_on_cellulose(wash.sheet.card):
        notes.append("A clear bath is not a fixed dye: the bond takes its time at temperature after the dye is in.")
    if is_after_treated(wash.sheet.card):
        notes.append(
            f"The after-treatment takes {show_volume(wash.sheet.liquor_l)} more and is taken to leave a quarter of the "
            "loose dye (a tenth to a half): an estimate."
        )
    elif loose_owf >= DEEP_LOOSE_OWF and _may_be_after_treated(wash):
        notes.append(
            "A deep reactive shade on wool is usually after-treated: fresh water with ammonia to pH 8 to 8.5, 15 min "
            "at 80 °C, then a rinse with a little acid (Broadbent p. 356). Set it on the card to see what it saves."
        )
    if susceptibility_frac(wash.sheet) > 0:
        notes.append(VINEGAR)
    return tuple(notes)


def _may_be_after_treated(wash: Washed) -> bool:
    wools = {Fibre.WOOL, Fibre.ALPACA, Fibre.MOHAIR}
    return bonds_on_protein(wash.sheet.card) and any(wash.sheet.card.yarn.fibre_frac.get(fibre) for fibre in wools)
