"""The demo: an invented lakeside studio, made on first sight from the package's own `demo_data`.

Recipes, dates and notes are written by hand there, colours made by `tools/make_demo.py`; sheets are planned here as in
any studio, and what "happened" follows each sheet with the run's own small lateness and heat.
"""

import csv
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from importlib.resources import files
from typing import Any
from uuid import UUID, uuid5

import numpy as np
from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import (
    AssistantDose,
    Base,
    Card,
    Colourway,
    Dye,
    DyeClass,
    DyeDose,
    Evening,
    Event,
    EventKind,
    Fibre,
    Heating,
    Jar,
    Lab,
    Lot,
    MeasuredHeatUp,
    Run,
    Settings,
    Skein,
    Vessel,
    Water,
    Yarn,
)
from dyewright.errors import InputError
from dyewright.files.cards import write_card
from dyewright.files.swatches import read_swatches
from dyewright.records import Records, colourways, evenings, heat_ups, lots, runs, shelf, swatches
from dyewright.services import lotbook, running, studios
from dyewright.services.assistants import parse_substance
from dyewright.services.demo_experiment import add_experiment
from dyewright.services.demo_palette import add_palette
from dyewright.services.judging.marks import read_marks
from dyewright.services.judging.pages import judge_marked, keep_verdict, photo_contents, unmarked, with_ways_of
from dyewright.services.learning.keeping import keep_what_it_taught
from dyewright.services.photos import keep_photo, look_at
from dyewright.services.repeating import pot_of

__all__ = ["discard_demo", "fill_demo", "make_demo"]

INVENTED = UUID("c9a6f2b4-5b1e-4b7a-9f0d-0d1e5eed0001")  # the root of the demo's own identifiers
USUAL_PH = 5.0  # the demo's habit for acid dyes
READ_AT_MIN = (0.0, 15.0, 30.0, 45.0, 60.0, 80.0)  # when the demo's dyer reads the thermometer
DRYING = timedelta(hours=20)
JUDGING = timedelta(minutes=4)  # from taking a photo to its verdict
# Runs before this one are as those of a studio whose forecasts were not kept yet; each takes half a second.
FORETOLD_FROM = 11


@dataclass(frozen=True)
class _Shelf:
    """What the demo's runs are made from, by name."""

    dyes: Mapping[str, Dye]
    bases: Mapping[str, Base]
    vessels: Mapping[str, Vessel]
    colourways: Mapping[str, Colourway]


def make_demo(place: str, *, now: datetime) -> Records:
    """Make the demo studio at a place and return it: whole, or not at all.

    Args:
        place: of a studio of its own.
        now: the present instant, at which one run stands at the pot.
    """
    records = studios.new_studio(place)
    try:
        with records.begin() as session:
            fill_demo(session, now=now)
    except BaseException:
        records.close()
        raise
    return records


def discard_demo(place: str) -> None:
    """Remove the demo studio at a place, if there is one.

    Raises:
        InputError: the studio there is no demo; it is left as it is.
    """
    if not studios.is_begun(place):
        return
    with closing(studios.open_studio(place)) as records:
        with records.read() as session:
            settings = studios.settings(session)
        if settings is None or not settings.is_demo or records.file is None:
            raise InputError(f"the studio at {place} is no demo; it stays as it is", field="studio", value=place)
        file = records.file
    for ending in ("", "-wal", "-shm"):
        file.with_name(file.name + ending).unlink(missing_ok=True)


def fill_demo(session: Session, *, now: datetime) -> None:
    """Fill an empty studio with the invented data, as it stands at this instant."""
    told = tomllib.loads(_text("demo.toml"))
    said = told["settings"]
    water = Water(alkalinity_mg_l=units.alkalinity_mg_l(said["alkalinity"]))
    settings = Settings(said["name"], is_demo=True, water=water, scale_resolution_g=said["scale"])
    shelf.save_settings(session, settings)
    at_hand = _fill_shelf(session, told)
    add_palette(session, told["palette"], photo_id=_id("photo of the shore"))
    _add_evening(session, told["evening"])
    add_experiment(session)
    for spec in told["heat_up"]:
        heat_ups.add_heat_up(session, _heat_up(spec, at_hand.vessels[spec["pot"]]))
    skeins = _skeins()
    for number, spec in enumerate(told["run"], start=1):
        run = _run(session, at_hand, _dated(spec, now), number)
        runs.add_run(session, run)
        if "photo" in spec:
            _keep_photo(session, run, spec)
            _judge_photo(session, run, spec)  # and keep what the run taught
        else:
            keep_what_it_taught(session, run.id, now=run.events[-1].happened_at)
        if number in skeins:
            _keep(session, run, spec, skeins[number])


def _fill_shelf(session: Session, told: Mapping[str, Any]) -> _Shelf:
    colours = {(row["of"], row["name"]): _lab(row) for row in _table("colours.csv")}
    dyes = {spec["name"]: shelf.save_dye(session, _dye(spec)) for spec in told["dye"]}
    bases = {
        spec["name"]: shelf.save_base(session, _base(spec, colours["base", spec["name"]])) for spec in told["base"]
    }
    vessels = {spec["name"]: shelf.save_vessel(session, _vessel(spec)) for spec in told["pot"]}
    swatches.add_swatches(session, read_swatches(_text("swatches.csv").encode(), "swatches.csv"))
    kept = {}
    for spec in told["colourway"]:
        colour = colours["colourway", spec["name"]]
        way = Colourway(
            name=spec["name"],
            target_lab=colour,
            target_from="lab " + " ".join(f"{value:g}" for value in colour),
            recipe_owf=_owf(spec["recipe"]),
            predicted_lab=colour,
            base_id=bases[spec["base"]].id,
            created_on=spec["created_on"],
        )
        kept[way.name] = colourways.save_colourway(session, way)
    return _Shelf(dyes, bases, vessels, kept)


def _add_evening(session: Session, spec: Mapping[str, Any]) -> None:
    """Keep the demo's swatch evening: its jars are the swatches that were dyed that day."""
    base = shelf.base_named(session, spec["base"])
    that_day = [one for one in swatches.swatches(session, spec["base"]) if one.dyed_on == spec["held_on"]]
    jars = tuple(
        Jar(number, one.depths_owf, Decimal(spec["mini_skein_g"]), swatch_id=one.id)
        for number, one in enumerate(that_day, start=1)
    )
    evening = Evening(
        name=spec["name"],
        held_on=spec["held_on"],
        base_id=(base and base.id) or 0,
        liquor_l_kg=spec["liquor_l_kg"],
        stock_g_l=spec["stock_g_l"],
        jars=jars,
        note="Invented data.",
    )
    evenings.save_evening(session, evening)


def _dated(spec: Mapping[str, Any], now: datetime) -> Mapping[str, Any]:
    """Return a run's data, with the hours of the one that stands at the pot counted back from now."""
    if "heat_on_min_ago" not in spec:
        return spec
    heat_on = now.replace(second=0, microsecond=0) - timedelta(minutes=spec["heat_on_min_ago"])
    return {**spec, "heat_on": heat_on, "until": now}


def _run(session: Session, at_hand: _Shelf, spec: Mapping[str, Any], number: int) -> Run:
    heat_on: datetime | None = spec.get("heat_on")
    planned_at = spec.get("planned_at") or datetime.combine(_day(heat_on) - timedelta(days=1), time(18, 30), UTC)
    base, colourway = at_hand.bases[spec["base"]], at_hand.colourways.get(spec.get("colourway", ""))
    planned = running.planned_run(
        session,
        card_toml=write_card(_card(at_hand, spec, base, colourway)),
        now=planned_at,
        run_id=_id(f"run {number}"),
        colourway_id=None if colourway is None else colourway.id,
        base_id=base.id,
        repeats_run_id=_id(f"run {spec['repeats']}") if "repeats" in spec else None,
        notes=["Invented data."],
        is_foretold=number >= FORETOLD_FROM,
    )
    run = replace(planned, number=number)
    happened = _happened(run, spec, heat_on) if heat_on else [_note(run, planned_at, text) for _, text in spec["notes"]]
    return replace(run, events=(*run.events, *happened))


def _card(at_hand: _Shelf, spec: Mapping[str, Any], base: Base, colourway: Colourway | None) -> Card:
    recipe = _owf(spec["recipe"]) if colourway is None else colourway.recipe_owf
    acid: AssistantDose = replace(parse_substance("white vinegar 5 %"), target_ph=USUAL_PH)
    return Card(
        title=spec["title"],
        yarn=Yarn(
            base.fibre_frac,
            dry_g=spec["skeins"] * (base.skein_g or 0.0),
            is_superwash=base.is_superwash,
            skeins=spec["skeins"],
            is_scoured=True,
        ),
        dyes=tuple(DyeDose(name, at_hand.dyes[name].dye_class, depth) for name, depth in recipe.items()),
        assistants=(acid,),
        pots=tuple(pot_of(at_hand.vessels[name]) for name in spec["pots"]),
    )


def _happened(run: Run, spec: Mapping[str, Any], heat_on: datetime) -> list[Event]:
    """What the demo's dyer recorded: the steps, the thermometer, the clarity ladder, notes, and the end."""
    steps = list(_steps_done(run, heat_on, spec["late_min"]))
    told = [_event(run, EventKind.STARTED, heat_on, {}), *steps]
    told += [
        _event(run, EventKind.TEMPERATURE, heat_on + timedelta(minutes=minutes), {"bath_c": bath_c})
        for minutes, bath_c in _readings(run.sheet, spec["off_c"])
    ]
    told += [
        _event(run, EventKind.CLARITY, heat_on + timedelta(minutes=minutes), {"exhaustion": exhaustion})
        for minutes, exhaustion in spec["clarity"]
    ]
    told += [_note(run, heat_on + timedelta(minutes=minutes), text) for minutes, text in spec["notes"]]
    if "photo" in spec:
        told.append(_event(run, EventKind.PHOTO, _photographed_at(spec), {"photo_id": str(_photo_id(run))}))
    told.append(_event(run, EventKind.FINISHED, steps[-1].happened_at, {}))
    return [event for event in told if "until" not in spec or event.happened_at <= spec["until"]]


def _steps_done(run: Run, heat_on: datetime, late_min: float) -> Iterator[Event]:
    """Each step at its planned end, later by a part of the run's lateness that grows with the work."""
    steps: Sequence[Mapping[str, Any]] = run.sheet["steps"]  # type: ignore[assignment]
    first_planned = next(step["at_min"] for step in steps if step["at_min"] is not None)
    before = [step for step in steps if step["at_min"] is None and step["duration_min"] is not None]
    at_min = first_planned - sum(step["duration_min"] for step in before)
    dry_at: datetime | None = None
    for place, step in enumerate(steps):
        # A second for each step keeps those of one minute in their order.
        late = timedelta(minutes=late_min * place // len(steps) if (step["at_min"] or -1.0) > 0 else 0, seconds=place)
        if step["duration_min"] is None or dry_at is not None:  # drying takes as long as it takes
            dry_at = (
                heat_on + timedelta(minutes=round(at_min)) + DRYING
                if dry_at is None
                else dry_at + timedelta(minutes=15)
            )
            yield _event(run, EventKind.STEP_DONE, dry_at, {"step": step["key"]})
            continue
        at_min = (at_min if step["at_min"] is None else step["at_min"]) + step["duration_min"]
        yield _event(run, EventKind.STEP_DONE, heat_on + timedelta(minutes=round(at_min)) + late, {"step": step["key"]})


def _readings(sheet: Mapping[str, Any], off_c: float) -> Iterator[tuple[float, float]]:
    """The planned temperature at each reading, off by what this run is, most where it heats."""
    for place, minutes in enumerate(READ_AT_MIN):
        planned_c = float(np.interp(minutes, sheet["t_min"], sheet["bath_c"]))
        is_off = 0.3 if place in {0, len(READ_AT_MIN) - 1} else 1.0
        yield minutes, round(planned_c + off_c * is_off)


def _keep(session: Session, run: Run, spec: Mapping[str, Any], skeins: Sequence[Skein]) -> None:
    kept_at = datetime.combine(_day(spec["heat_on"]) + timedelta(days=2), time(10, 0), UTC)
    lot = Lot(
        id=_id(f"lot {run.number}"),
        run_id=run.id,
        name=str(run.number),
        kept_on=kept_at.date(),
        note=spec.get("lot_note", ""),
        skeins=tuple(skeins),
        judgement_id=_verdict_id(run) if "photo" in spec else None,
    )
    lots.add_lot(session, lot, search_text=lotbook.search_text(session, run, lot))
    runs.append_event(session, Event(lot.id, run.id, EventKind.KEPT, kept_at, kept_at, {"lot_id": str(lot.id)}))


def _keep_photo(session: Session, run: Run, spec: Mapping[str, Any]) -> None:
    content = files("dyewright.services").joinpath("demo_data", spec["photo"]).read_bytes()
    keep_photo(session, look_at(content), photo_id=_photo_id(run), run_id=run.id, taken_at=_photographed_at(spec))


def _judge_photo(session: Session, run: Run, spec: Mapping[str, Any]) -> None:
    """Judge a run's photo as anybody's is: the demo shows what this version makes of it."""
    typed = unmarked(session, run.id)
    judged = judge_marked(photo_contents(session, [_photo_id(run)]), read_marks(typed))
    result = with_ways_of(session, _photo_id(run), judged)
    at = _photographed_at(spec) + JUDGING
    keep_verdict(session, _photo_id(run), result, typed, at, judgement_id=_verdict_id(run))


def _verdict_id(run: Run) -> UUID:
    return _id(f"verdict on run {run.number}")


def _photo_id(run: Run) -> UUID:
    return _id(f"photo of run {run.number}")


def _photographed_at(spec: Mapping[str, Any]) -> datetime:
    return datetime.combine(_day(spec["heat_on"]) + timedelta(days=1), time(14, 30), UTC)


def _event(run: Run, kind: EventKind, at: datetime, detail: Mapping[str, object]) -> Event:
    key = _id(f"run {run.number} {kind} {at.isoformat()} {sorted(detail.items())}")
    return Event(key, run.id, kind, at, at, detail)


def _note(run: Run, at: datetime, text: str) -> Event:
    return _event(run, EventKind.NOTE, at, {"text": text})


def _dye(spec: Mapping[str, Any]) -> Dye:
    return Dye(
        name=spec["name"],
        dye_class=DyeClass(spec["class"]),
        is_blend=spec.get("is_blend", False),
        price_per_g=Decimal(spec["price_per_g"]),
        on_shelf_g=Decimal(spec["on_shelf_g"]),
        note=spec.get("note", ""),
        dye_lot=spec.get("dye_lot", ""),
    )


def _base(spec: Mapping[str, Any], undyed: Lab) -> Base:
    return Base(
        name=spec["name"],
        fibre_frac={Fibre(fibre): percent / 100 for fibre, percent in spec["fibre"].items()},
        is_superwash=spec.get("superwash", False),
        undyed_lab=undyed,
        skein_g=spec["skein_g"],
        note=spec.get("note", ""),
    )


def _vessel(spec: Mapping[str, Any]) -> Vessel:
    return Vessel(
        name=spec["name"],
        volume_l=units.volume_l(spec["volume"]),
        heating=Heating(spec["heat"]),
        diameter_m=units.length_m(spec["diameter"]),
        power_w=units.power_w(spec["power"]),
        turns_per_min=0.2,
    )


def _heat_up(spec: Mapping[str, Any], vessel: Vessel) -> MeasuredHeatUp:
    return MeasuredHeatUp(
        vessel_id=vessel.id or 0,
        knob=spec["knob"],
        water_l=units.volume_l(spec["water"]),
        has_lid=True,
        readings=tuple((float(at_min), float(bath_c)) for at_min, bath_c in spec["readings"]),
        measured_on=spec["measured_on"],
        note="Invented data.",
    )


def _skeins() -> dict[int, list[Skein]]:
    kept: dict[int, list[Skein]] = {}
    for row in _table("skeins.csv"):
        skein = Skein(int(row["skein"]), Decimal(row["mass_g"]), _lab(row), row["matching_set"])
        kept.setdefault(int(row["run"]), []).append(skein)
    return kept


def _owf(percent: Mapping[str, float]) -> dict[str, float]:
    return {name: round(value / 100, 8) for name, value in percent.items()}


def _lab(row: Mapping[str, str]) -> Lab:
    return float(row["L"]), float(row["a"]), float(row["b"])


def _day(instant: datetime | None) -> date:
    return instant.date() if instant else date(2026, 1, 1)


def _id(name: str) -> UUID:
    return uuid5(INVENTED, name)


def _text(name: str) -> str:
    return files("dyewright.services").joinpath("demo_data", name).read_text(encoding="utf-8")


def _table(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(_text(name).splitlines()))
