from contextlib import closing
from dataclasses import replace

import pytest
from sqlalchemy import text

from dyewright.core.model import Dye, Settings
from dyewright.errors import DataFileError, InputError, NotFoundError
from dyewright.records import shelf
from dyewright.services import checks, studios


def test_a_place_is_a_folder_a_file_or_a_url(tmp_path):
    assert studios.studio_url(str(tmp_path)) == f"sqlite:///{tmp_path}/studio.sqlite"
    assert studios.studio_url(str(tmp_path / "mine.sqlite")) == f"sqlite:///{tmp_path}/mine.sqlite"
    assert studios.studio_url("postgresql://dyer@host/studio") == "postgresql://dyer@host/studio"


def test_a_studio_is_begun_once_in_a_folder_that_need_not_be_there(tmp_path):
    place = str(tmp_path / "new" / "folder")
    assert not studios.is_begun(place)
    assert not (tmp_path / "new").exists()  # looking makes nothing
    studios.begin_studio(place, name="  Boathouse ").close()
    assert studios.is_begun(place)
    with closing(studios.open_studio(place)) as records, records.begin() as session:
        assert studios.settings(session) == Settings("Boathouse")
        studios.save_settings(session, replace(Settings("Boathouse"), scale_resolution_g=0.01))
    with pytest.raises(InputError, match=r"has begun at .* already"):
        studios.begin_studio(place, name="Again")


def test_a_studio_begins_on_every_kind_of_database(place):
    assert not studios.is_begun(place)
    studios.begin_studio(place, name="Boathouse").close()
    assert studios.is_begun(place)


def test_a_studio_needs_a_name_and_a_place_where_it_is(tmp_path):
    with pytest.raises(InputError, match="needs a name") as refused:
        studios.begin_studio(str(tmp_path), name=" ")
    assert refused.value.field == "name"
    with pytest.raises(NotFoundError, match="there is no studio at"):
        studios.open_studio(str(tmp_path))
    (tmp_path / "file").write_text("")
    with pytest.raises(DataFileError, match="cannot be made"):
        studios.begin_studio(str(tmp_path / "file" / "below"), name="Boathouse")


def test_a_file_that_is_no_studio_is_left_alone(tmp_path):
    file = tmp_path / "letter.sqlite"
    file.write_text("Dear reader " * 500)
    with pytest.raises(DataFileError, match="cannot be opened"):
        studios.open_studio(str(file))
    assert file.read_text() == "Dear reader " * 500


def findings(place):
    return {finding.what: finding for finding in checks.check(place)}


def test_a_sound_studio_is_found_sound(place):
    studios.begin_studio(place, name="Boathouse").close()
    found = findings(place)
    assert list(found) == ["integrity", "migrations", "tables", "fonts"]
    assert all(finding.is_ok for finding in found.values())


def test_an_installation_without_a_studio_is_looked_at_too(tmp_path):
    found = findings(str(tmp_path))
    assert list(found) == ["studio", "tables", "fonts"]
    assert all(finding.is_ok for finding in found.values())


def test_what_is_wrong_is_found(tmp_path):
    place = str(tmp_path / "studio.sqlite")
    with closing(studios.begin_studio(place, name="Boathouse")) as records:
        with records.begin() as session:
            shelf.save_dye(session, Dye("Reed"))
        with records.engine.connect() as connection:
            connection.execute(text("ROLLBACK"))
            connection.execute(text("PRAGMA foreign_keys = OFF"))
            columns = "swatch_id, dye_name, position, depth_owf"
            orphan = f"INSERT INTO swatch_dye ({columns}) VALUES (77, 'Reed', 0, 0.01)"  # noqa: S608 - nothing typed
            connection.execute(text(orphan))
            connection.execute(text("ALTER TABLE dye DROP COLUMN is_blend"))
            connection.execute(text("BEGIN"))
    found = findings(place)
    assert not found["integrity"].is_ok
    assert "swatch_dye row 1 refers to a missing swatch" in found["integrity"].sentence
    assert not found["migrations"].is_ok
    assert "is_blend" in found["migrations"].sentence


def test_a_damaged_file_is_found(tmp_path):
    file = tmp_path / "studio.sqlite"
    file.write_bytes(b"SQLite format 3\0" + b"\1" * 5000)
    found = findings(str(file))
    assert not found["studio"].is_ok


def test_damaged_tables_and_fonts_are_found(tmp_path, monkeypatch):
    font = tmp_path / "Broken.ttf"
    font.write_bytes(b"no font")
    table = tmp_path / "nowhere.csv"
    table.write_text("a,b\n")
    monkeypatch.setattr(checks, "_entries", lambda folder: [table] if folder == "data" else [font])
    found = findings(str(tmp_path))
    assert (found["tables"].is_ok, found["fonts"].is_ok) == (False, False)
    assert "nowhere" in found["tables"].sentence
    assert "Broken.ttf is damaged" in found["fonts"].sentence
