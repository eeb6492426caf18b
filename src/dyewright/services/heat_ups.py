"""Heat-ups of the studio's pots: entered, fitted, and put to use in every later plan."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from sqlalchemy.orm import Session

from dyewright.core import heat
from dyewright.core.heat_up import checked_heat_up, heat_up_curve_c, learn_heat
from dyewright.core.model import Hold, LearntHeat, MeasuredHeatUp, Pot, Sheet, Vessel
from dyewright.data.practice import load_heat_sources
from dyewright.errors import InputError
from dyewright.records import heat_ups as records_of
from dyewright.records import shelf
from dyewright.services.forecast_pages.charts import in_page
from dyewright.services.repeating import pot_of
from dyewright.sheets.happened import happened_chart
from dyewright.units import duration_min, show_temperature, show_volume, temperature_c, volume_l

__all__ = [
    "MOST_READINGS",
    "HeatUpShown",
    "heat_up_from_form",
    "keep_heat_up",
    "knob_sentences",
    "pot_as_learnt",
    "pot_page",
    "pots_as_learnt",
]

MOST_READINGS = 8
MOST_DRAWN = 4  # of the last heat-ups of a pot: each drawing takes a fifth of a second
USUAL_FILL_FRAC = 0.7  # of the brim, where no plan says; common practice, no source
WIDE_PX, NARROW_PX, HEIGHT_PX = 460, 220, 150
CURVE_POINTS = 60
KNOB = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:of|/)\s*(\d+(?:[.,]\d+)?)", re.IGNORECASE)
FULLY_ON = {"", "full", "fully on", "max", "maximum", "high", "top"}
BOILS_C = 99.5


@dataclass(frozen=True)
class HeatUpShown:
    """One heat-up as the pot's page shows it: the answer, why and how sure, its curve with the readings."""

    id: int
    title: str
    headline: str
    lines: tuple[str, ...]
    svg: str | None
    svg_narrow: str | None


def heat_up_from_form(form: Mapping[str, str], vessel_id: int) -> MeasuredHeatUp:
    """Return a heat-up as typed.

    Raises:
        InputError: an amount that cannot be read, half a reading, or readings that no heated pot gives.
    """
    room, places = form.get("room", "").strip(), _filled(form)
    heat_up = MeasuredHeatUp(
        vessel_id=vessel_id,
        knob=" ".join(form.get("knob", "").split()),
        water_l=volume_l(form.get("water", ""), field="water", thing="water in the pot", default_unit="L"),
        has_lid="heat_up_lid" in form,
        readings=tuple(_reading(form, place) for place in places),
        room_c=temperature_c(room, field="room", thing="room temperature", default_unit="C") if room else heat.ROOM_C,
    )
    try:
        checked_heat_up(heat_up)
    except InputError as error:
        head, _, number = (error.field or "").partition(".")
        at = f"reading.{places[int(number) - 1] if number.isdigit() and places else 1}.c" if head == "reading" else head
        raise InputError(error.message, field=at, value=error.value, limit=error.limit) from error
    return heat_up


def _filled(form: Mapping[str, str]) -> list[int]:
    """Return which rows of the form hold a reading, or a part of one."""
    rows = range(1, MOST_READINGS + 1)
    return [row for row in rows if any(form.get(f"reading.{row}.{key}", "").strip() for key in ("min", "c"))]


def _reading(form: Mapping[str, str], place: int) -> tuple[float, float]:
    texts = {key: form.get(f"reading.{place}.{key}", "").strip() for key in ("min", "c")}
    missing = next((key for key, text in texts.items() if not text), None)
    if missing is not None:
        word = "minute" if missing == "min" else "temperature"
        raise InputError(
            f"reading {place} has no {word}: a reading is a minute and a temperature",
            field=f"reading.{place}.{missing}",
        )
    at_min = duration_min(texts["min"], field=f"reading.{place}.min", thing="minute", default_unit="min")
    bath_c = temperature_c(texts["c"], field=f"reading.{place}.c", default_unit="C")
    return at_min, bath_c


def keep_heat_up(session: Session, form: Mapping[str, str], vessel_id: int) -> MeasuredHeatUp:
    """Keep a heat-up that the pot can be fitted to; see `heat_up_from_form`."""
    vessel, heat_up = shelf.vessel(session, vessel_id), heat_up_from_form(form, vessel_id)
    if heat_up.water_l > vessel.volume_l:
        raise InputError(
            f"{vessel.name} holds {show_volume(vessel.volume_l)} to the brim, and {show_volume(heat_up.water_l)} were "
            "heated; look at one of the two again",
            field="water",
            value=heat_up.water_l,
            limit=vessel.volume_l,
        )
    _fitted(vessel, (*records_of.heat_ups(session, vessel_id), heat_up))  # refuses a heat that no pot takes
    return records_of.add_heat_up(session, heat_up)


def pot_page(session: Session, vessel_id: int) -> dict[str, object]:
    """Return what the page of a pot shows beside its form: its heat-ups, and what each knob setting holds."""
    vessel, measured = shelf.vessel(session, vessel_id), tuple(records_of.heat_ups(session, vessel_id))
    learnt = _fitted(vessel, measured)
    return {
        "heat_ups": tuple(
            _shown(vessel, *each, is_drawn=place >= len(measured) - MOST_DRAWN)
            for place, each in enumerate(zip(measured, learnt, strict=True))
        ),
        "reading_places": range(1, MOST_READINGS + 1),
    }


def _fitted(vessel: Vessel, measured: Sequence[MeasuredHeatUp]) -> tuple[LearntHeat, ...]:
    return _fitted_once(pot_of(vessel), tuple(measured)) if measured else ()


@lru_cache(maxsize=32)
def _fitted_once(pot: Pot, measured: tuple[MeasuredHeatUp, ...]) -> tuple[LearntHeat, ...]:
    """Return the fit; the last ones are kept, because every plan asks for them."""
    return learn_heat(measured, pot, load_heat_sources()[pot.heating])


def _shown(vessel: Vessel, heat_up: MeasuredHeatUp, learnt: LearntHeat, *, is_drawn: bool) -> HeatUpShown:
    return HeatUpShown(
        id=heat_up.id or 0,
        title=f"{_knob_words(heat_up.knob)}, {show_volume(heat_up.water_l)}, {'lid on' if heat_up.has_lid else 'open'}",
        headline=f"{_round_w(learnt.useful_w)} W go into the pot",
        lines=tuple(_lines(vessel, learnt)),
        svg=in_page(_chart(vessel, heat_up, learnt, WIDE_PX)) if is_drawn else None,
        svg_narrow=in_page(_chart(vessel, heat_up, learnt, NARROW_PX)) if is_drawn else None,
    )


def _lines(vessel: Vessel, learnt: LearntHeat) -> list[str]:
    """Return what the fit says, in sentences: of the power, of what the setting holds, of the losses, of its misses."""
    lines = [_power_words(vessel, learnt), _hold_words(vessel, learnt)]
    if learnt.loss_factor == 1.0:
        lines.append(
            "Its losses are taken as computed (estimate): readings on a low setting, until it hardly rises, tell them."
        )
    else:
        lines.append(f"It loses {learnt.loss_factor:.1f} times what is computed for a pot of its size.")
    if learnt.readings == 2:
        lines.append("From two readings: a third would tell how well they fit.")
    else:
        lines.append(f"The curve meets its {learnt.readings} readings within {max(learnt.rms_c, 0.1):.1f} °C.")
    return lines


def _power_words(vessel: Vessel, learnt: LearntHeat) -> str:
    if vessel.power_w is None:
        return "With the power on its plate this would also tell how much of it is lost on the way."
    share = learnt.useful_w / vessel.power_w
    if share > 1:
        return f"That is more than the {vessel.power_w:g} W on its plate: look at litres, minutes or plate again."
    return f"That is {100 * share:.0f} % of the {vessel.power_w:g} W on its plate."


def _hold_words(vessel: Vessel, learnt: LearntHeat) -> str:
    """Return where a setting comes to rest, with the lid and without."""
    pot = _as_measured(vessel, learnt)
    lidded, opened = (_holds_c(replace(pot, has_lid=has_lid)) for has_lid in (True, False))
    litres = show_volume(USUAL_FILL_FRAC * vessel.volume_l)
    if lidded >= BOILS_C:
        rest = "boils too" if opened >= BOILS_C else f"stops at {show_temperature(round(opened))}"
        return f"Left alone with {litres} it boils under its lid; open it {rest}."
    return (
        f"Left alone with {litres} it holds {show_temperature(round(lidded))} under its lid, "
        f"{show_temperature(round(opened))} open."
    )


def _holds_c(pot: Pot) -> float:
    source = load_heat_sources()[pot.heating]
    return heat.stagnation_c(heat.thermal_pot(pot, source, water_l=USUAL_FILL_FRAC * pot.volume_l, fibre_g=0.0))


def _as_measured(vessel: Vessel, learnt: LearntHeat) -> Pot:
    return replace(pot_of(vessel), useful_w=learnt.useful_w, loss_factor=learnt.loss_factor)


def _chart(vessel: Vessel, heat_up: MeasuredHeatUp, learnt: LearntHeat, width_px: int) -> str:
    """Return the fitted curve with its readings."""
    pot = pot_of(vessel)
    times = np.linspace(heat_up.readings[0][0], heat_up.readings[-1][0], CURVE_POINTS).tolist()
    curve = heat_up_curve_c(heat_up, learnt, pot, load_heat_sources()[pot.heating], t_min=times)
    return happened_chart(times, curve, heat_up.readings, curve_words="fitted", width_px=width_px, height_px=HEIGHT_PX)


def _round_w(power_w: float) -> str:
    return f"{round(power_w, -1):.0f}"


def _knob_words(knob: str) -> str:
    return f"Knob at {knob}" if knob.casefold() not in FULLY_ON else "Knob fully on"


def _is_full(knob: str) -> bool:
    number = _knob_number(knob)
    return knob.casefold() in FULLY_ON or (number is not None and number[0] == number[1])


def _knob_number(knob: str) -> tuple[float, float] | None:
    """Return "5 of 9" as its two numbers; None where the setting has no number."""
    match = KNOB.fullmatch(knob.strip())
    return None if match is None else (float(match[1].replace(",", ".")), float(match[2].replace(",", ".")))


def pots_as_learnt(session: Session) -> dict[str, Pot]:
    """Return every pot of the shelf, by its name in lower case, with what its heat-ups taught."""
    return {vessel.name.casefold(): pot_as_learnt(session, vessel) for vessel in shelf.vessels(session)}


def pot_as_learnt(session: Session, vessel: Vessel) -> Pot:
    """Return a vessel as the pot of a card, with the power and losses of its last heat-up with the knob fully on."""
    pot = pot_of(vessel)
    learnt = _learnt(session, vessel)
    full = [one for one in learnt if _is_full(one.knob)]
    if full:
        return replace(pot, useful_w=round(full[-1].useful_w), loss_factor=round(full[-1].loss_factor, 2))
    return replace(pot, loss_factor=round(learnt[-1].loss_factor, 2)) if learnt else pot


def _learnt(session: Session, vessel: Vessel) -> tuple[LearntHeat, ...]:
    return () if vessel.id is None else _fitted(vessel, records_of.heat_ups(session, vessel.id))


def knob_sentences(session: Session, sheet: Sheet) -> tuple[str, ...]:
    """Return for each pot of a sheet where its knob is to stand for the holds, where its heat-ups tell."""
    vessels = {vessel.name: vessel for vessel in shelf.vessels(session)}
    hold_c = _hold_c(sheet)
    if hold_c is None:
        return ()
    sentences = []
    for pot, share in zip(sheet.card.pots, sheet.pots, strict=True):
        vessel = vessels.get(pot.name or "")
        if vessel is None:
            continue
        source = load_heat_sources()[pot.heating]
        thermal = heat.thermal_pot(pot, source, water_l=share.liquor_l, fibre_g=share.dry_g)
        knob = _knob_for(heat.heat_loss_w(thermal, hold_c), _learnt(session, vessel))
        if knob:
            sentences.append(f"{vessel.name}: to hold {show_temperature(round(hold_c))}, knob about {knob} (measured).")
    return tuple(sentences)


def _hold_c(sheet: Sheet) -> float | None:
    """Return the hottest temperature that the programme holds; None where it holds none."""
    return max(sheet.bath_c) if any(isinstance(stage, Hold) for stage in sheet.card.stages) else None


def _knob_for(needed_w: float, learnt: Sequence[LearntHeat]) -> str | None:
    """Return the numbered setting that gives a power: between measured ones, or between off and the lowest of them.

    None where no setting below full was measured, or the power lies above all of them.
    """
    numbered = {number[0]: (number[1], one.useful_w) for one in learnt if (number := _knob_number(one.knob))}
    if not any(place < most for place, (most, _) in numbered.items()):
        return None
    most = max(most for most, _ in numbered.values())
    full = [one.useful_w for one in learnt if one.knob.casefold() in FULLY_ON]
    powers = {0.0: 0.0, **({most: full[-1]} if full else {}), **{place: w for place, (_, w) in numbered.items()}}
    places = sorted(powers)
    watts = [powers[place] for place in places]
    if needed_w > watts[-1] or any(b <= a for a, b in pairwise(watts)):
        return None
    return f"{np.interp(needed_w, watts, places):.0f} of {most:g}"
