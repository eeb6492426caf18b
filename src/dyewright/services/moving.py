"""A studio out into a folder of plain files, and in from one: wholly or not at all."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from uuid import UUID

from sqlalchemy.orm import Session

import dyewright
from dyewright.core.model import Run
from dyewright.core.model.archive import Archive
from dyewright.errors import InputError
from dyewright.files.archive import read_archive, read_photo, write_archive
from dyewright.records import (
    Records,
    colourways,
    evenings,
    experiments,
    heat_ups,
    lots,
    photos,
    runs,
    shelf,
    swatches,
    transfer,
    wet_pairs,
)
from dyewright.services import lotbook, studios
from dyewright.services.learning.lessons import relearn
from dyewright.services.safekeeping import refuse_to_overwrite

__all__ = ["archive_of", "export_studio", "import_studio", "put_in"]

_IdsByOld = Mapping[int | None, int | None]


@dataclass(frozen=True)
class _Ids:
    """The ids that things have here, by those that they had where they came from."""

    bases: _IdsByOld
    swatches: _IdsByOld
    palettes: _IdsByOld
    colourways: _IdsByOld


def export_studio(records: Records, folder: Path, *, now: datetime) -> Path:
    """Write a studio as a folder of tables, cards and photos, and return the folder; it appears when it is complete.

    Raises:
        InputError: something is in the folder already, or there is no folder around it.
        NotFoundError: the studio has not begun.
    """
    target = folder.expanduser().absolute()
    if not target.parent.is_dir():
        raise InputError(f"there is no folder {target.parent} to export into; make it first", field="folder")
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise InputError(f"{target} is there already and not empty; name a new folder", field="folder")
    with TemporaryDirectory(dir=target.parent, prefix=".export-") as aside:
        written = Path(aside) / target.name
        written.mkdir()
        with records.read() as session:
            write_archive(
                written,
                archive_of(session),
                photo_content=lambda photo: photos.photo_content(session, photo.id),
                written_by=dyewright.__version__,
                written_at=now,
            )
        written.replace(target)
    return target


def import_studio(place: str, folder: Path, *, is_replacing: bool = False) -> Records:
    """Put an exported studio in a place and return the studio that is there then.

    Raises:
        InputError: a studio is there already and `is_replacing` was not said.
        DataFileError: the folder is no exported studio, or something in it cannot be read.
    """
    source = folder.expanduser().absolute()
    archive = read_archive(source)
    records = studios.new_studio(place)
    try:
        with records.begin() as session:
            connection = session.connection()
            refuse_to_overwrite(place, is_empty=transfer.is_empty(connection), is_replacing=is_replacing)
            transfer.remove_rows(connection)
            put_in(session, archive, source)
            relearn(session)
    except BaseException:
        records.close()
        raise
    return records


def archive_of(session: Session) -> Archive:
    """Return everything that a studio keeps, without the bytes of its photos.

    Raises:
        InputError: the studio has not begun.
    """
    settings = shelf.studio_settings(session)
    if settings is None:
        raise InputError("this studio has not begun; there is nothing to export")
    return Archive(
        settings=settings,
        dyes=tuple(shelf.dyes(session)),
        bases=tuple(shelf.bases(session)),
        vessels=tuple(shelf.vessels(session)),
        swatches=tuple(swatches.swatches(session)),
        colourways=tuple(colourways.colourways(session)),
        runs=tuple(runs.all_runs(session)),
        lots=tuple(lot for lot, _ in lots.all_lots(session)),
        photos=tuple(photos.all_photos(session)),
        judgements=tuple(photos.all_judgements(session)),
        palettes=tuple(colourways.palettes(session)),
        evenings=tuple(evenings.evenings(session)),
        heat_ups=tuple(heat_ups.heat_ups(session)),
        experiments=tuple(experiments.experiments(session)),
        wet_pairs=tuple(wet_pairs.wet_pairs(session)),
    )


def put_in(session: Session, archive: Archive, folder: Path) -> None:
    """Put everything of an archive into an empty studio; its ids of bases and colourways become this studio's own."""
    ids = _put_in_shelf(session, archive)
    by_id = _put_in_runs(session, archive, ids)
    for photo in archive.photos:
        photos.add_photo(
            session,
            read_photo(folder, photo),
            photo_id=photo.id,
            run_id=photo.run_id,
            media_type=photo.media_type,
            width_px=photo.width_px,
            height_px=photo.height_px,
            taken_at=photo.taken_at,
        )
    for judgement in archive.judgements:
        photos.add_judgement(session, judgement)
    _put_in_lots(session, archive, by_id)
    _put_in_what_names_photos(session, archive, ids)


def _put_in_shelf(session: Session, archive: Archive) -> _Ids:
    """Put in what is on the shelf, palettes without their pictures; return the new ids by the old ones."""
    shelf.save_settings(session, archive.settings)
    for dye in archive.dyes:
        shelf.save_dye(session, replace(dye, id=None))
    vessel_ids = {vessel.id: shelf.save_vessel(session, replace(vessel, id=None)).id for vessel in archive.vessels}
    for heat_up in archive.heat_ups:
        vessel_id = _of(vessel_ids, heat_up.vessel_id)
        heat_ups.add_heat_up(session, replace(heat_up, id=None, vessel_id=vessel_id or 0))
    base_ids = {base.id: shelf.save_base(session, replace(base, id=None)).id for base in archive.bases}
    for pair in archive.wet_pairs:
        wet_pairs.add_wet_pair(session, replace(pair, id=None, base_id=_of(base_ids, pair.base_id) or 0))
    new_swatches = swatches.add_swatches(session, archive.swatches)
    swatch_ids = {old.id: new.id for old, new in zip(archive.swatches, new_swatches, strict=True)}
    palette_ids = {
        each.id: colourways.save_palette(session, replace(each, id=None, photo_id=None)).id for each in archive.palettes
    }
    colourway_ids: dict[int | None, int | None] = {}
    for colourway in archive.colourways:
        here = replace(
            colourway,
            id=None,
            base_id=_of(base_ids, colourway.base_id),
            palette_id=_of(palette_ids, colourway.palette_id),
        )
        colourway_ids[colourway.id] = colourways.save_colourway(session, here).id
    return _Ids(base_ids, swatch_ids, palette_ids, colourway_ids)


def _put_in_what_names_photos(session: Session, archive: Archive, ids: _Ids) -> None:
    """Give the palettes their pictures, and put in what was judged: swatch evenings, experiments."""
    for palette in archive.palettes:
        if palette.photo_id is not None:
            colourways.save_palette(session, replace(palette, id=_of(ids.palettes, palette.id)))
    for evening in reversed(archive.evenings):
        jars = tuple(replace(jar, swatch_id=_of(ids.swatches, jar.swatch_id)) for jar in evening.jars)
        base_id = _of(ids.bases, evening.base_id)
        evenings.save_evening(session, replace(evening, id=None, base_id=base_id or 0, jars=jars))
    for experiment in reversed(archive.experiments):
        base_id = _of(ids.bases, experiment.base_id)
        experiments.save_experiment(session, replace(experiment, id=None, base_id=base_id))


def _put_in_runs(session: Session, archive: Archive, ids: _Ids) -> dict[UUID, Run]:
    by_id = {}
    for run in archive.runs:
        here = replace(run, base_id=_of(ids.bases, run.base_id), colourway_id=_of(ids.colourways, run.colourway_id))
        by_id[run.id] = runs.add_run(session, here)
    return by_id


def _put_in_lots(session: Session, archive: Archive, by_id: Mapping[UUID, Run]) -> None:
    for lot in archive.lots:
        if lot.run_id not in by_id:
            raise InputError(f"lot {lot.name} belongs to a run that is not in the folder", value=str(lot.run_id))
        lots.add_lot(session, lot, search_text=lotbook.search_text(session, by_id[lot.run_id], lot))


def _of(ids: _IdsByOld, there: int | None) -> int | None:
    if there is not None and there not in ids:
        raise InputError(
            f"a base, vessel, swatch, palette or colourway with the id {there} is named but not in the folder",
            value=there,
        )
    return None if there is None else ids[there]
