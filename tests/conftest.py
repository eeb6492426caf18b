"""What every test may ask for."""

import os
import shutil
from pathlib import Path
from uuid import uuid4

import hypothesis
import postgres
import pytest

from dyewright.records import open_records, transfer, upgrade_to_head

SHARED = Path(__file__).resolve().parents[2] / "shared"
IS_CI = os.environ.get("CI", "").lower() == "true"

# A busy machine is no error, so examples have no deadline. In CI the same are tried each time, elsewhere new ones.
hypothesis.settings.register_profile("bench", deadline=None)
hypothesis.settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
hypothesis.settings.load_profile("ci" if IS_CI else "bench")


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """The folder of open data beside the checkout; it is not on a user's machine."""
    if not (SHARED / "data").is_dir():
        pytest.skip("the open data beside the checkout is not on this machine")
    return SHARED / "data"


@pytest.fixture(scope="session")
def postgres_server():
    """The URL of a PostgreSQL server; none is a skip, and in CI a failure."""
    with postgres.running_server() as url:
        if url is None:
            message = f"no PostgreSQL in {postgres.PROGRAMS}, and {postgres.URL_VARIABLE} is not set"
            pytest.fail(message) if IS_CI else pytest.skip(message)
        yield url


@pytest.fixture(scope="session")
def migrated_postgres_url(postgres_server):
    """The URL of a PostgreSQL database with the newest tables."""
    url = postgres.fresh_database(postgres_server)
    made = open_records(url)
    upgrade_to_head(made.engine)
    made.close()
    return url


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory) -> Path:
    """An SQLite file with the newest tables and no rows, to be copied."""
    file = tmp_path_factory.mktemp("template") / "studio.sqlite"
    made = open_records(f"sqlite:///{file}")
    upgrade_to_head(made.engine)
    made.close()
    return file


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.database)])
def place(request, tmp_path) -> str:
    """A place for a studio with the newest tables and no rows, on each kind of database in turn."""
    if request.param == "sqlite":
        return str(shutil.copy(request.getfixturevalue("migrated_file"), tmp_path / f"{uuid4()}.sqlite"))
    url = request.getfixturevalue("migrated_postgres_url")
    server = open_records(url)
    with server.engine.begin() as connection:
        transfer.remove_rows(connection)
    server.close()
    return url


@pytest.fixture
def records(place):
    """The records of an empty studio, on each kind of database in turn."""
    opened = open_records(place if "://" in place else f"sqlite:///{place}")
    yield opened
    opened.close()
