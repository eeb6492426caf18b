"""A studio and its place: where it is, begun, opened."""

from contextlib import closing
from pathlib import Path

from sqlalchemy import inspect
from sqlalchemy.orm import Session

from dyewright.core.model import Settings
from dyewright.errors import DataFileError, InputError, NotFoundError
from dyewright.records import Records, open_records, shelf, upgrade_to_head
from dyewright.services.learning.lessons import relearn

__all__ = [
    "begin_studio",
    "default_folder",
    "enter_studio",
    "is_begun",
    "new_studio",
    "open_studio",
    "save_settings",
    "settings",
    "studio_url",
]

FILE_NAME = "studio.sqlite"
SQLITE = "sqlite:///"
FILE_ENDINGS = {".sqlite", ".sqlite3", ".db"}


def default_folder() -> Path:
    """Return the folder for studios that the operating system gives to this user."""
    from platformdirs import user_data_path

    return user_data_path("dyewright", appauthor=False)


def studio_url(place: str) -> str:
    """Return the database URL of a place: a URL as it is, a file, or a folder that holds `studio.sqlite`."""
    if "://" in place:
        return place
    path = Path(place).expanduser().absolute()
    return f"{SQLITE}{path if path.suffix in FILE_ENDINGS else path / FILE_NAME}"


def is_begun(place: str) -> bool:
    """Return whether a studio has begun at a place; nothing is made or changed there."""
    url = studio_url(place)
    file = _file(url)
    if file is not None and not file.exists():
        return False
    with closing(open_records(url)) as records:
        if not inspect(records.engine).has_table("studio"):
            return False
        with records.read() as session:
            return shelf.is_begun(session)


def open_studio(place: str) -> Records:
    """Return the studio at a place, its tables brought up to date.

    Raises:
        NotFoundError: no studio has begun there.
        DataFileError: the file is no studio, or newer than this version can read.
    """
    if not is_begun(place):
        raise NotFoundError(f"there is no studio at {place}; begin one with: dyewright serve --studio {place}")
    return new_studio(place)


def enter_studio(place: str) -> Records:
    """Return the studio at a place to work in: open, and with the lessons of its pots as this version computes them.

    Raises:
        NotFoundError: no studio has begun there.
        DataFileError: the file is no studio, or newer than this version can read.
    """
    records = open_studio(place)
    with records.begin() as session:
        relearn(session)
    return records


def new_studio(place: str) -> Records:
    """Return the records at a place with their tables up to date; made where there are none, without settings yet."""
    url = studio_url(place)
    file = _file(url)
    if file is not None:
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise DataFileError(f"the folder {file.parent} for the studio cannot be made: {error.strerror}") from error
    records = open_records(url)
    try:
        upgrade_to_head(records.engine)
    except BaseException:
        records.close()
        raise
    return records


def begin_studio(place: str, *, name: str) -> Records:
    """Begin the dyer's own studio.

    Raises:
        InputError: the name is empty, or a studio has begun there already.
    """
    if not name.strip():
        raise InputError("the studio needs a name; any will do, and it can be changed later", field="name", value=name)
    if is_begun(place):
        raise InputError(f"a studio has begun at {place} already; open it, or name another place", field="name")
    records = new_studio(place)
    with records.begin() as session:
        shelf.save_settings(session, Settings(name=name.strip()))
    return records


def settings(session: Session) -> Settings | None:
    """Return what the studio has said about itself; None where it has not begun."""
    return shelf.studio_settings(session)


def save_settings(session: Session, changed: Settings) -> Settings:
    """Keep changed settings."""
    return shelf.save_settings(session, changed)


def _file(url: str) -> Path | None:
    return Path(url.removeprefix(SQLITE)) if url.startswith(SQLITE) else None
