import csv
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from io import BytesIO
from uuid import uuid4

import pytest
from PIL import Image
from studio_cards import CHOIR, plan_run, repeat_run

from dyewright.core.model import (
    Base,
    Colourway,
    Dye,
    DyeClass,
    Evening,
    Experiment,
    Factor,
    Fibre,
    Heating,
    Jar,
    Judgement,
    MeasuredHeatUp,
    Palette,
    Sample,
    Settings,
    Skein,
    Spoons,
    Swatch,
    TargetKind,
    Vessel,
    Water,
    WetPair,
)
from dyewright.core.model.archive import Archive
from dyewright.errors import DataFileError, InputError
from dyewright.records import colourways, evenings, experiments, heat_ups, photos, runs, shelf, wet_pairs
from dyewright.records import swatches as swatches_of
from dyewright.services import moving, running, safekeeping, studios

NOW = datetime(2026, 10, 3, 14, 0, tzinfo=UTC)
AWKWARD = 'She said "pH 4,5"\nthen, „ach so“; =1+1 \x7f 🧶'


def picture() -> bytes:
    out = BytesIO()
    Image.new("RGB", (6, 4), (70, 110, 115)).save(out, "PNG")
    return out.getvalue()


def fill(session) -> None:
    """One of everything that a studio keeps, with text that files must not break on."""
    water = Water(alkalinity_mg_l=95.0, temperature_c=14.5)
    shelf.save_settings(session, Settings(AWKWARD, spoons=Spoons.US, water=water, scale_resolution_g=0.01))
    shelf.save_dye(session, Dye("Zinnia", DyeClass.FOOD, is_blend=True, price_per_g=Decimal("0.210000"), note=AWKWARD))
    base = shelf.save_base(session, Base("Shoreline", {Fibre.WOOL: 0.7, Fibre.SILK: 0.3}, undyed_lab=(90.0, -1.0, 9.5)))
    pot = shelf.save_vessel(session, Vessel("Pot", 12.0, Heating.GAS, has_lid=False))
    measured = MeasuredHeatUp(pot.id, "7 of 9", 8.0, has_lid=True, readings=((0, 15), (10.5, 40)), note=AWKWARD)
    heat_ups.add_heat_up(session, measured)
    wet_pairs.add_wet_pair(session, WetPair(base.id, (30.0, -9.5, 2.0), (41.0, -12.0, 1.5), NOW.date(), AWKWARD))
    curve = tuple(i / 31 for i in range(31))
    mix = Swatch(
        {"Lagoon": 0.002, "Zinnia": 0.1},
        "Shoreline",
        reflectance=curve,
        source="invented",
        origin={"a": "b"},
        dye_lots={"Zinnia": AWKWARD},
        noise_de00=0.4,
        reads=3,
    )
    undyed, _ = swatches_of.add_swatches(
        session, [Swatch({}, "Shoreline", lab=(90.0, -1.0, 9.5), dyed_on=NOW.date()), mix]
    )
    shore = colourways.save_palette(session, Palette("Shore", created_on=NOW.date(), note=AWKWARD))
    way = Colourway(
        "Choir",
        (55.0, -18.0, -4.0),
        "lab 55 -18 -4",
        {"Lagoon": 0.002},
        base_id=base.id,
        note=AWKWARD,
        target_kind=TargetKind.PICTURE,
        target_reflectance=curve,
        palette_id=shore.id,
        share_frac=0.25,
    )
    way = colourways.save_colourway(session, way)
    run = plan_run(session, card_toml=CHOIR, now=NOW, colourway_id=way.id, base_id=base.id)
    repeat_run(session, run.id, now=NOW)
    note = {"id": str(uuid4()), "kind": "note", "happened_at": NOW.isoformat(), "detail": {"text": AWKWARD}}
    noted = running.record_event(session, run.id, note, now=NOW)
    running.undo(session, run.id, noted.id, correction_id=uuid4(), now=NOW)
    skeins = [Skein(1, Decimal("99.500"), (54.5, -18.0, -4.25), "A", AWKWARD, "B", "alternate it"), Skein(2)]
    running.keep_lot(session, run.id, lot_id=uuid4(), skeins=skeins, kept_on=NOW.date(), now=NOW, note=AWKWARD)
    photo = photos.add_photo(
        session,
        picture(),
        photo_id=uuid4(),
        run_id=run.id,
        media_type="image/png",
        width_px=6,
        height_px=4,
        taken_at=NOW,
    )
    photos.add_judgement(
        session,
        Judgement(
            uuid4(), run.id, photo.id, NOW, {"skeins": [{"lab": [1.5, 2, 3]}]}, "0.1.0", {"chart": "none"}, (photo.id,)
        ),
    )
    judged = photos.add_judgement(session, Judgement(uuid4(), None, photo.id, NOW.replace(hour=15), {}, "0.1.0"))
    colourways.save_palette(session, replace(shore, photo_id=photo.id))
    jars = (Jar(1, {}, Decimal("5.000"), swatch_id=undyed.id), Jar(2, {"Lagoon": 0.01}, Decimal("7.250"), AWKWARD))
    for name, kept_jars in (("Ladders", jars), ("Mixes", ())):
        kept_evening = Evening(
            name, NOW.date(), base.id, 35.0, 10.0, kept_jars, judged.id, AWKWARD, set_up={"jar": AWKWARD}
        )
        evenings.save_evening(session, kept_evening)
    samples = (Sample(1, None, 2), Sample(2, 0.01, 1, run.id, (50.0, 1.0, -2.5), AWKWARD))
    varied = Experiment("Depths", Factor.DEPTH, AWKWARD, base.id, 5.0, samples, NOW.date(), judged.id, AWKWARD)
    experiments.save_experiment(session, varied)


def kept(records) -> Archive:
    """What a studio keeps, without the numbers that a database gives: those may differ between two of them."""
    with records.read() as session:
        archive = moving.archive_of(session)
    bases = {base.id: base.name for base in archive.bases}
    vessels = {vessel.id: vessel.name for vessel in archive.vessels}
    ways = {way.id: way.name for way in archive.colourways}
    palettes = {palette.id: palette.name for palette in archive.palettes}
    recipes = {swatch.id: tuple(swatch.depths_owf) for swatch in archive.swatches}
    return replace(
        archive,
        dyes=tuple(replace(dye, id=None) for dye in archive.dyes),
        bases=tuple(replace(base, id=None) for base in archive.bases),
        vessels=tuple(replace(vessel, id=None) for vessel in archive.vessels),
        swatches=tuple(replace(swatch, id=None) for swatch in archive.swatches),
        palettes=tuple(replace(palette, id=None) for palette in archive.palettes),
        colourways=tuple(
            replace(way, id=None, base_id=bases.get(way.base_id), palette_id=palettes.get(way.palette_id))
            for way in archive.colourways
        ),
        heat_ups=tuple(replace(one, id=None, vessel_id=vessels[one.vessel_id]) for one in archive.heat_ups),
        wet_pairs=tuple(replace(one, id=None, base_id=bases[one.base_id]) for one in archive.wet_pairs),
        experiments=tuple(replace(one, id=None, base_id=bases.get(one.base_id)) for one in archive.experiments),
        evenings=tuple(
            replace(
                evening,
                id=None,
                base_id=bases[evening.base_id],
                jars=tuple(replace(jar, swatch_id=recipes.get(jar.swatch_id)) for jar in evening.jars),
            )
            for evening in archive.evenings
        ),
        runs=tuple(
            replace(run, base_id=bases.get(run.base_id), colourway_id=ways.get(run.colourway_id))
            for run in archive.runs
        ),
    )


@pytest.fixture
def filled(records):
    with records.begin() as session:
        fill(session)
    return records


@pytest.fixture
def elsewhere(tmp_path) -> str:
    return str(tmp_path / "elsewhere")


def test_a_backup_put_back_is_the_same_studio(filled, elsewhere, tmp_path):
    file = safekeeping.backup(filled, tmp_path / "saved.sqlite")
    assert [entry.name for entry in tmp_path.iterdir() if entry.name.startswith((".backup", "saved"))] == [
        "saved.sqlite"
    ]
    with closing(safekeeping.restore(elsewhere, file)) as restored:
        assert kept(restored) == kept(filled)
        with restored.begin() as session:
            photo = photos.all_photos(session)[0]
            assert photos.photo_content(session, photo.id) == picture()
            assert shelf.save_dye(session, Dye("New")).id > max(
                dye.id for dye in shelf.dyes(session) if dye.name != "New"
            )
            assert runs.next_run_number(session) == 3


@pytest.mark.database
def test_a_backup_of_a_file_goes_onto_a_server_and_back(tmp_path, migrated_postgres_url, elsewhere):
    with closing(studios.new_studio(elsewhere)) as on_file:
        with on_file.begin() as session:
            fill(session)
        file = safekeeping.backup(on_file, tmp_path / "saved.sqlite")
        with closing(safekeeping.restore(migrated_postgres_url, file, is_replacing=True)) as on_server:
            assert kept(on_server) == kept(on_file)
            with on_server.begin() as session:  # the server numbers on after what came along
                shelf.save_dye(session, Dye("New"))


def test_an_export_put_back_is_the_same_studio(filled, elsewhere, tmp_path):
    folder = moving.export_studio(filled, tmp_path / "out", now=NOW)
    with closing(moving.import_studio(elsewhere, folder)) as imported:
        assert kept(imported) == kept(filled)
        with imported.read() as session:
            assert photos.photo_content(session, photos.all_photos(session)[0].id) == picture()
    # The tables are for other programs: the card is the dyer's own text, the tables have the fields' names.
    assert (folder / "cards" / "0001.toml").read_text() == CHOIR
    assert (folder / "dyes.csv").read_text().startswith("name,dye_class,is_blend,")


@pytest.mark.parametrize("put_back", [safekeeping.restore, moving.import_studio])
def test_a_studio_is_not_overwritten_unless_that_is_said(filled, place, tmp_path, put_back):
    saved = (
        safekeeping.backup(filled, tmp_path / "saved.sqlite")
        if put_back is safekeeping.restore
        else moving.export_studio(filled, tmp_path / "out", now=NOW)
    )
    with filled.begin() as session:
        shelf.save_dye(session, Dye("Later"))
    with pytest.raises(InputError, match=r"there is a studio at .* already"):
        put_back(place, saved)
    with filled.read() as session:
        assert "Later" in [dye.name for dye in shelf.dyes(session)]
    put_back(place, saved, is_replacing=True).close()
    with filled.read() as session:
        assert "Later" not in [dye.name for dye in shelf.dyes(session)]


def test_a_backup_over_an_older_one_replaces_it(filled, tmp_path):
    target = tmp_path / "saved.sqlite"
    target.write_text("an older backup")
    safekeeping.backup(filled, target)
    with closing(sqlite3.connect(target)) as connection:
        assert connection.execute("SELECT count(*) FROM run").fetchone() == (2,)
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)  # one file holds it all


def test_backups_that_cannot_be_written_are_refused(filled, tmp_path):
    with pytest.raises(InputError, match="there is no folder"):
        safekeeping.backup(filled, tmp_path / "nowhere" / "saved.sqlite")
    with pytest.raises(InputError, match="is in use as the studio or is a folder"):
        safekeeping.backup(filled, filled.file or tmp_path)


def test_what_is_no_backup_is_refused_and_the_studio_stays(filled, place, tmp_path):
    before = kept(filled)
    letter, empty, damaged = tmp_path / "letter.txt", tmp_path / "empty.sqlite", tmp_path / "damaged.sqlite"
    letter.write_text("Dear reader " * 400)
    sqlite3.connect(empty).close()
    shutil.copyfile(safekeeping.backup(filled, tmp_path / "saved.sqlite"), damaged)
    with closing(sqlite3.connect(damaged)) as connection, connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("DELETE FROM base")
    for file, sentence in [
        (tmp_path / "none.sqlite", "there is no file"),
        (letter, "cannot be opened"),
        (empty, "is not the backup of a studio"),
        (damaged, r"is damaged: .* refers to a missing base"),
    ]:
        with pytest.raises((InputError, DataFileError), match=sentence):
            safekeeping.restore(place, file, is_replacing=True)
    assert kept(filled) == before


def test_exports_do_not_go_where_something_is(filled, tmp_path):
    full = tmp_path / "full"
    full.mkdir()
    (full / "letter.txt").write_text("mine")
    with pytest.raises(InputError, match="not empty"):
        moving.export_studio(filled, full, now=NOW)
    with pytest.raises(InputError, match="there is no folder"):
        moving.export_studio(filled, tmp_path / "no" / "where", now=NOW)
    (tmp_path / "empty").mkdir()
    assert (moving.export_studio(filled, tmp_path / "empty", now=NOW) / "studio.toml").is_file()


def without(name):
    return lambda folder: (folder / name).unlink()


def changed(name, old, new):
    def change(folder):
        text = (folder / name).read_text()
        assert old in text
        (folder / name).write_text(text.replace(old, new, 1))

    return change


def as_the_first_format(folder):
    """Take away what the first format did not have."""
    changed("studio.toml", "format = 4", "format = 1")(folder)
    for name in (
        "palettes.csv",
        "evenings.csv",
        "jars.csv",
        "heat_ups.csv",
        "experiments.csv",
        "samples.csv",
        "wet_pairs.csv",
    ):
        (folder / name).unlink()
    for name, new in (
        ("dyes.csv", {"dye_lot"}),
        ("swatches.csv", {"dye_lots", "noise_de00", "reads"}),
        ("lots.csv", {"judgement_id"}),
        ("skeins.csv", {"proposed_set", "caution"}),
        ("judgements.csv", {"marks", "more_photo_ids"}),
        ("colourways.csv", {"target_kind", "target_reflectance", "palette_id", "share_frac"}),
    ):
        with (folder / name).open(newline="") as table:
            rows = list(csv.DictReader(table))
        with (folder / name).open("w", newline="") as table:
            kept_columns = [column for column in rows[0] if column not in new]
            writer = csv.DictWriter(table, kept_columns, extrasaction="ignore")
            writer.writeheader()
            writer.writerows(rows)


def test_an_export_of_the_first_format_is_still_read(filled, elsewhere, tmp_path):
    folder = moving.export_studio(filled, tmp_path / "out", now=NOW)
    as_the_first_format(folder)
    with closing(moving.import_studio(elsewhere, folder)) as imported:
        archive = kept(imported)
    assert [swatch.reads for swatch in archive.swatches] == [1, 1]
    (way,) = archive.colourways
    assert (way.target_kind, way.palette_id, way.recipe_owf) == (TargetKind.TYPED, None, {"Lagoon": 0.002})
    assert (archive.palettes, archive.evenings, archive.heat_ups, archive.experiments) == ((), (), (), ())
    assert archive.wet_pairs == ()
    assert archive.runs == kept(filled).runs


def other_photo(folder):
    next((folder / "photos").iterdir()).write_bytes(b"another picture")


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (without("studio.toml"), "no exported studio"),
        (without("events.csv"), "events.csv cannot be read"),
        (without("cards/0001.toml"), "the card of run 1 cannot be read"),
        (changed("studio.toml", "format = 4", "format = 99"), "is in format 99; this version reads formats up to 4"),
        (changed("dyes.csv", "food colour", "rainbow"), r"dyes.csv line \d+, column dye_class: “rainbow”"),
        (changed("dyes.csv", "0.210000", "cheap"), r"dyes.csv line \d+, column price_per_g: “cheap”"),
        (changed("bases.csv", '""wool"": 0.7', '""wool"": '), r"bases.csv line 2, column fibre_frac"),
        (changed("runs.csv", "id,number", "id,nummer"), "runs.csv lacks the column number"),
        (changed("sheets/0001.json", "{", "["), "0001.json cannot be read"),
        (other_photo, "has changed since it was exported"),
    ],
)
def test_a_spoilt_export_says_where_and_changes_nothing(filled, place, tmp_path, spoil, sentence):
    before = kept(filled)
    folder = moving.export_studio(filled, tmp_path / "out", now=NOW)
    spoil(folder)
    with pytest.raises(DataFileError, match=sentence):
        moving.import_studio(place, folder, is_replacing=True)
    assert kept(filled) == before
