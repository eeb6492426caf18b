"""A studio as a folder that any spreadsheet and text editor can open: CSV tables, TOML cards, JSON sheets, photos.

studio.toml        the format's number, the version that wrote it, the settings
dyes.csv …         one table a kind of thing: dyes, bases, vessels, heat_ups, wet_pairs, swatches, palettes, colourways,
                   evenings, jars, experiments, samples, runs, events, lots, skeins, photos, judgements
cards/0048.toml    the card of run 48 as it was planned, and sheets/0048.json the sheet that was computed from it
judgements/*.json  verdicts as computed
photos/*           photos as they came, named by the SHA-256 of their bytes
"""

import json
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import Any
from uuid import UUID

from dyewright.core.model import (
    Base,
    Colourway,
    Dye,
    Evening,
    Event,
    Experiment,
    Jar,
    Judgement,
    Lot,
    MeasuredHeatUp,
    Palette,
    Photo,
    Run,
    Sample,
    Settings,
    Skein,
    Spoons,
    Swatch,
    Vessel,
    Water,
    WetPair,
)
from dyewright.core.model.archive import Archive
from dyewright.core.progress import run_state
from dyewright.errors import DataFileError
from dyewright.files._cells import read_table, write_table

__all__ = ["FORMAT", "read_archive", "read_photo", "write_archive"]

FORMAT = 4
READ_FORMATS = (1, 2, 3, 4)
EVENINGS_SINCE, EXPERIMENTS_SINCE, WET_PAIRS_SINCE = 2, 3, 4  # palettes came with 2, heat-ups with 3
HEAD = "studio.toml"
RUN_APART = ("card_toml", "sheet", "state", "events")  # in files of their own, or read from the events
LOT_APART = ("skeins",)
EVENING_APART = ("jars",)
EXPERIMENT_APART = ("samples",)
JUDGEMENT_APART = ("result",)
ENDINGS = {
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "image/tiff": ".tif",
    "image/heic": ".heic",
    "image/x-adobe-dng": ".dng",
}


@dataclass(frozen=True)
class _SkeinLine:
    """A skein with the lot that it belongs to: a row of the table of skeins."""

    lot_id: UUID
    number: int
    mass_g: Decimal | None
    lab: tuple[float, float, float] | None
    matching_set: str | None
    note: str
    proposed_set: str | None = None
    caution: str = ""


@dataclass(frozen=True)
class _JarLine:
    """A jar with the swatch evening that it belongs to: a row of the table of jars."""

    evening_id: int
    number: int
    recipe_owf: Mapping[str, float]
    mass_g: Decimal
    seat: str
    swatch_id: int | None


@dataclass(frozen=True)
class _SampleLine:
    """A sample with the experiment that it belongs to: a row of the table of samples."""

    experiment_id: int
    number: int
    value: float | None
    place: int
    run_id: UUID | None
    lab: tuple[float, float, float] | None
    note: str


def write_archive(
    folder: Path, archive: Archive, *, photo_content: Callable[[Photo], bytes], written_by: str, written_at: datetime
) -> None:
    """Write a studio into an empty folder.

    Args:
        folder: exists and is empty.
        archive: the studio.
        photo_content: returns the bytes of a photo; one at a time, so that they need not all be in memory.
        written_by: the package version.
        written_at: the present instant.
    """
    (folder / HEAD).write_text(_head(archive.settings, written_by, written_at), encoding="utf-8")
    for name, kind in (("dyes", Dye), ("bases", Base), ("vessels", Vessel), ("swatches", Swatch)):
        write_table(folder / f"{name}.csv", kind, getattr(archive, name))
    write_table(folder / "palettes.csv", Palette, archive.palettes)
    write_table(folder / "colourways.csv", Colourway, archive.colourways)
    write_table(folder / "evenings.csv", Evening, archive.evenings, leave_out=EVENING_APART)
    jars = (_JarLine(evening.id or 0, **vars(jar)) for evening in archive.evenings for jar in evening.jars)
    write_table(folder / "jars.csv", _JarLine, jars)
    write_table(folder / "heat_ups.csv", MeasuredHeatUp, archive.heat_ups)
    write_table(folder / "wet_pairs.csv", WetPair, archive.wet_pairs)
    write_table(folder / "experiments.csv", Experiment, archive.experiments, leave_out=EXPERIMENT_APART)
    samples = (_SampleLine(one.id or 0, **vars(sample)) for one in archive.experiments for sample in one.samples)
    write_table(folder / "samples.csv", _SampleLine, samples)
    write_table(folder / "runs.csv", Run, archive.runs, leave_out=RUN_APART)
    write_table(folder / "events.csv", Event, (event for run in archive.runs for event in run.events))
    write_table(folder / "lots.csv", Lot, archive.lots, leave_out=LOT_APART)
    lines = (_SkeinLine(lot.id, **vars(skein)) for lot in archive.lots for skein in lot.skeins)
    write_table(folder / "skeins.csv", _SkeinLine, lines)
    write_table(folder / "photos.csv", Photo, archive.photos)
    write_table(folder / "judgements.csv", Judgement, archive.judgements, leave_out=JUDGEMENT_APART)
    for name in ("cards", "sheets", "judgements", "photos"):
        (folder / name).mkdir()
    for run in archive.runs:
        _card_file(folder, run.number).write_text(run.card_toml, encoding="utf-8", newline="")
        _write_json(_sheet_file(folder, run.number), run.sheet)
    for judgement in archive.judgements:
        _write_json(folder / "judgements" / f"{judgement.id}.json", judgement.result)
    for photo in archive.photos:
        _photo_file(folder, photo).write_bytes(photo_content(photo))


def read_archive(folder: Path) -> Archive:
    """Return the studio that a folder holds.

    Raises:
        DataFileError: the folder is no exported studio, or something in it cannot be read.
    """
    settings, written_format = _settings(folder)
    events: dict[UUID, list[Event]] = {}
    for event in read_table(folder / "events.csv", Event):
        events.setdefault(event.run_id, []).append(event)
    skeins: dict[UUID, list[Skein]] = {}
    for line in read_table(folder / "skeins.csv", _SkeinLine):
        said = {name: value for name, value in vars(line).items() if name != "lot_id"}
        skein = Skein(**said)
        skeins.setdefault(line.lot_id, []).append(skein)
    runs = read_table(folder / "runs.csv", Run, leave_out=RUN_APART, given=lambda row: _run_apart(folder, row))
    lots = read_table(folder / "lots.csv", Lot, leave_out=LOT_APART)
    return Archive(
        settings=settings,
        dyes=tuple(read_table(folder / "dyes.csv", Dye)),
        bases=tuple(read_table(folder / "bases.csv", Base)),
        vessels=tuple(read_table(folder / "vessels.csv", Vessel)),
        swatches=tuple(read_table(folder / "swatches.csv", Swatch)),
        colourways=tuple(read_table(folder / "colourways.csv", Colourway)),
        runs=tuple(_with_events(run, events.get(run.id, [])) for run in runs),
        lots=tuple(replace(lot, skeins=tuple(skeins.get(lot.id, ()))) for lot in lots),
        photos=tuple(read_table(folder / "photos.csv", Photo)),
        judgements=tuple(
            read_table(
                folder / "judgements.csv", Judgement, leave_out=JUDGEMENT_APART, given=lambda row: _result(folder, row)
            )
        ),
        palettes=() if written_format < EVENINGS_SINCE else tuple(read_table(folder / "palettes.csv", Palette)),
        evenings=() if written_format < EVENINGS_SINCE else _evenings(folder),
        heat_ups=()
        if written_format < EXPERIMENTS_SINCE
        else tuple(read_table(folder / "heat_ups.csv", MeasuredHeatUp)),
        experiments=() if written_format < EXPERIMENTS_SINCE else _experiments(folder),
        wet_pairs=() if written_format < WET_PAIRS_SINCE else tuple(read_table(folder / "wet_pairs.csv", WetPair)),
    )


def _evenings(folder: Path) -> tuple[Evening, ...]:
    jars: dict[int | None, list[Jar]] = {}
    for line in read_table(folder / "jars.csv", _JarLine):
        jar = Jar(line.number, line.recipe_owf, line.mass_g, line.seat, line.swatch_id)
        jars.setdefault(line.evening_id, []).append(jar)
    bare = read_table(folder / "evenings.csv", Evening, leave_out=EVENING_APART)
    return tuple(replace(evening, jars=tuple(jars.get(evening.id, ()))) for evening in bare)


def _experiments(folder: Path) -> tuple[Experiment, ...]:
    samples: dict[int | None, list[Sample]] = {}
    for line in read_table(folder / "samples.csv", _SampleLine):
        sample = Sample(line.number, line.value, line.place, line.run_id, line.lab, line.note)
        samples.setdefault(line.experiment_id, []).append(sample)
    bare = read_table(
        folder / "experiments.csv", Experiment, leave_out=EXPERIMENT_APART, given=lambda _: {"samples": ()}
    )
    return tuple(replace(one, samples=tuple(samples.get(one.id, ()))) for one in bare)


def read_photo(folder: Path, photo: Photo) -> bytes:
    """Return the bytes of an exported photo.

    Raises:
        DataFileError: the file is missing, or has other bytes than it had.
    """
    file = _photo_file(folder, photo)
    try:
        content = file.read_bytes()
    except OSError as error:
        raise DataFileError(f"the photo {file} cannot be read: {error.strerror}") from error
    if sha256(content).hexdigest() != photo.sha256:
        raise DataFileError(f"the photo {file.name} has changed since it was exported")
    return content


def _head(settings: Settings, written_by: str, written_at: datetime) -> str:
    said = {
        "name": settings.name,
        "is_demo": settings.is_demo,
        "spoons": settings.spoons.value,
        "scale_resolution_g": settings.scale_resolution_g,
        "tolerance_de00": settings.tolerance_de00,
        "is_tonal_wanted": settings.is_tonal_wanted,
    }
    water = {
        "alkalinity_mg_l": settings.water.alkalinity_mg_l,
        "ph": settings.water.ph,
        "temperature_c": settings.water.temperature_c,
    }
    top = {"format": FORMAT, "written_by": written_by, "written_at": written_at.isoformat()}
    return f"{_lines(top)}\n[settings]\n{_lines(said)}\n[settings.water]\n{_lines(water)}"


def _lines(values: Mapping[str, object]) -> str:
    # JSON's text, numbers and booleans are TOML's too, but for the delete character, which TOML wants escaped.
    said = ((key, json.dumps(value, ensure_ascii=False)) for key, value in values.items() if value is not None)
    return "".join(f"{key} = {text}\n" for key, text in said).replace("\x7f", "\\u007f")


def _settings(folder: Path) -> tuple[Settings, int]:
    """Return the settings, and the format in which the folder was written."""
    try:
        head = tomllib.loads((folder / HEAD).read_text(encoding="utf-8"))
        if head["format"] not in READ_FORMATS:
            raise DataFileError(f"{folder} is in format {head['format']}; this version reads formats up to {FORMAT}")
        said: dict[str, Any] = head["settings"]
        water = Water(**said.pop("water", {}))
        settings = Settings(**{**said, "spoons": Spoons(said["spoons"]), "water": water})
        return settings, head["format"]
    except OSError as error:
        raise DataFileError(f"{folder} is no exported studio: {HEAD} cannot be read") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, KeyError, TypeError, ValueError) as error:
        raise DataFileError(f"{folder / HEAD} cannot be read: {error}") from error


def _with_events(run: Run, events: Iterable[Event]) -> Run:
    in_order = tuple(sorted(events, key=lambda event: (event.happened_at, event.recorded_at, event.id)))
    return replace(run, events=in_order, state=run_state(in_order))


def _run_apart(folder: Path, row: Mapping[str, str]) -> Mapping[str, Any]:
    number = int(row["number"])
    try:
        card = _card_file(folder, number).read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise DataFileError(f"the card of run {number} cannot be read: {error}") from error
    return {"card_toml": card, "sheet": _read_json(_sheet_file(folder, number))}


def _result(folder: Path, row: Mapping[str, str]) -> Mapping[str, Any]:
    return {"result": _read_json(folder / "judgements" / f"{UUID(row['id'])}.json")}


def _card_file(folder: Path, number: int) -> Path:
    return folder / "cards" / f"{number:04}.toml"


def _sheet_file(folder: Path, number: int) -> Path:
    return folder / "sheets" / f"{number:04}.json"


def _photo_file(folder: Path, photo: Photo) -> Path:
    if re.fullmatch("[0-9a-f]{64}", photo.sha256) is None:
        raise DataFileError(f"photo {photo.id}: “{photo.sha256}” is no SHA-256 of its bytes")
    return folder / "photos" / f"{photo.sha256}{ENDINGS.get(photo.media_type, '')}"


def _write_json(file: Path, value: Mapping[str, object]) -> None:
    file.write_text(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1), encoding="utf-8")


def _read_json(file: Path) -> Mapping[str, Any]:
    try:
        value = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise DataFileError(f"{file} cannot be read: {error}") from error
    if not isinstance(value, dict):
        raise DataFileError(f"{file} does not hold named values")
    return value
