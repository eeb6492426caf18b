import postgres
import pytest
from sqlalchemy import create_engine, inspect, text

from dyewright.core.model import Swatch, TargetKind
from dyewright.errors import DataFileError, InputError
from dyewright.records import (
    colourways,
    differences_from_models,
    migration_state,
    open_records,
    shelf,
    swatches,
    tables,
    upgrade_to_head,
)


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.database)])
def empty(request, tmp_path):
    """Records without a single table."""
    is_file = request.param == "sqlite"
    url = f"sqlite:///{tmp_path / 'empty.sqlite'}" if is_file else None
    opened = open_records(url or postgres.fresh_database(request.getfixturevalue("postgres_server")))
    yield opened
    opened.close()


def test_migrations_run_from_empty_to_head_and_agree_with_the_models(empty):
    assert migration_state(empty.engine)[0] is None

    upgrade_to_head(empty.engine)
    upgrade_to_head(empty.engine)  # a second opening finds nothing to do

    current, head = migration_state(empty.engine)
    assert current == head
    with empty.engine.connect() as connection:
        assert differences_from_models(connection) == []
        assert set(inspect(connection).get_table_names()) == {*tables.metadata.tables, "alembic_version"}


def test_what_the_first_version_kept_comes_along(empty):
    upgrade_to_head(empty.engine, to="0001")
    with empty.engine.begin() as connection:
        connection.execute(
            text("INSERT INTO base (name, fibre_frac, is_superwash, note) VALUES ('B', '{}', false, '')")
        )
        connection.execute(
            text(
                "INSERT INTO dye (name, dye_class, is_blend, is_fluorescent, note)"
                " VALUES ('D', 'direct', false, false, '')"
            )
        )
        connection.execute(
            text(
                "INSERT INTO swatch (base_name, lab_l, lab_a, lab_b, illuminant, observer, source, note, origin)"
                " VALUES ('B', 50, 1, 2, 'D65', 10, 'photo', '', '{}')"
            )
        )
        connection.execute(text("INSERT INTO swatch_dye VALUES (1, 'D', 0, 0.01)"))
        connection.execute(
            text("INSERT INTO colourway (name, target_from, base_id, note) VALUES ('C', 'lab 50 1 2', 1, '')")
        )

    upgrade_to_head(empty.engine)

    with empty.read() as session:
        assert swatches.swatches(session) == [Swatch({"D": 0.01}, "B", lab=(50, 1, 2), source="photo", id=1)]
        assert [dye.dye_lot for dye in shelf.dyes(session)] == [""]
        assert [way.target_kind for way in colourways.colourways(session)] == [TargetKind.TYPED]


def test_every_constraint_has_a_name(records):
    looked_at = inspect(records.engine)
    for table in tables.metadata.tables:
        named = [
            looked_at.get_pk_constraint(table),
            *looked_at.get_foreign_keys(table),
            *looked_at.get_unique_constraints(table),
            *looked_at.get_check_constraints(table),
        ]
        assert all(constraint["name"] for constraint in named if constraint.get("constrained_columns") != []), table


def test_a_difference_from_the_models_is_seen(records):
    with records.engine.connect() as connection:
        connection.execute(text("ALTER TABLE dye ADD COLUMN colour_of_lid TEXT"))
        assert "colour_of_lid" in "".join(differences_from_models(connection))
        connection.rollback()


def test_a_studio_of_a_newer_version_is_refused(tmp_path):
    opened = open_records(f"sqlite:///{tmp_path / 'newer.sqlite'}")
    upgrade_to_head(opened.engine)
    with opened.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = 'from the future'"))

    with pytest.raises(DataFileError, match=r"newer version .*from the future"):
        upgrade_to_head(opened.engine)
    opened.close()


def test_sqlite_is_set_up_for_several_readers_and_one_writer(tmp_path):
    opened = open_records(f"sqlite:///{tmp_path / 'studio.sqlite'}")
    with opened.engine.connect() as connection:
        pragmas = {
            name: connection.execute(text(f"PRAGMA {name}")).scalar_one()
            for name in ("journal_mode", "foreign_keys", "busy_timeout")
        }
    opened.close()
    assert pragmas == {"journal_mode": "wal", "foreign_keys": 1, "busy_timeout": 5000}


def test_what_is_read_while_another_writes_does_not_wait(tmp_path):
    opened = open_records(f"sqlite:///{tmp_path / 'studio.sqlite'}")
    upgrade_to_head(opened.engine)
    with opened.begin() as writing:
        writing.execute(text("INSERT INTO photo_content VALUES ('a', x'00')"))
        with opened.read() as reading:
            assert reading.execute(text("SELECT count(*) FROM photo_content")).scalar_one() == 0
    with opened.read() as reading:
        assert reading.execute(text("SELECT count(*) FROM photo_content")).scalar_one() == 1
    opened.close()


def test_what_fails_is_rolled_back_whole(records):
    def fails_half_way():
        with records.begin() as session:
            session.add(tables.PhotoContentRow(sha256="a", content=b"0"))
            session.flush()
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fails_half_way()
    with records.read() as session:
        assert session.get(tables.PhotoContentRow, "a") is None


@pytest.mark.parametrize("url", ["mysql://somewhere/studio", "not a url", "nonsense+driver://x/y"])
def test_other_databases_are_refused_in_a_sentence(url):
    with pytest.raises(InputError, match=r"studio at .*(SQLite|not a path)"):
        open_records(url)


def test_a_file_that_is_no_database_is_refused_in_a_sentence(tmp_path):
    file = tmp_path / "letter.sqlite"
    file.write_text("Dear reader, this is a letter and no studio. " * 50)
    with pytest.raises(DataFileError, match=r"letter\.sqlite cannot be opened"):
        open_records(f"sqlite:///{file}")


def test_engine_options_of_a_plain_engine_are_not_needed_to_read_the_file(migrated_file):
    # A studio is an ordinary SQLite file: any other program can read it.
    engine = create_engine(f"sqlite:///{migrated_file}")
    with engine.connect() as connection:
        assert "run" in inspect(connection).get_table_names()
    engine.dispose()
