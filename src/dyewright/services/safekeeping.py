"""A studio backed up to one file, and put back from it: wholly or not at all."""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from dyewright.errors import DataFileError, InputError
from dyewright.records import Records, open_records, transfer, upgrade_to_head
from dyewright.services import studios

__all__ = ["backup", "refuse_to_overwrite", "restore"]


def backup(records: Records, file: Path) -> Path:
    """Write the whole studio to one SQLite file while it is in use, and return the file.

    The file appears when it is complete; one of the same name is replaced then, and stays as it was on any failure.

    Raises:
        InputError: there is no such folder, or the file is the studio itself.
    """
    target = file.expanduser().absolute()
    if not target.parent.is_dir():
        raise InputError(f"there is no folder {target.parent} for the backup; make it first", field="file")
    if target.is_dir() or (records.file is not None and target.resolve() == records.file.resolve()):
        raise InputError(f"{target} is in use as the studio or is a folder; name another file", field="file")
    with TemporaryDirectory(dir=target.parent, prefix=".backup-") as folder:
        copy = Path(folder) / target.name
        if records.file is not None:
            _copy_online(records.file, copy)
        else:
            _copy_from_server(records, copy)
        _keep_in_one_file(copy)
        copy.replace(target)
    return target


def restore(place: str, file: Path, *, is_replacing: bool = False) -> Records:
    """Put a backup in a place and return the studio that is there then.

    Raises:
        InputError: a studio is there already and `is_replacing` was not said.
        DataFileError: the file is no backup of a studio, or it is damaged.
    """
    with _opened_copy(file.expanduser()) as source:
        target = studios.new_studio(place)
        try:
            with target.engine.begin() as into:
                refuse_to_overwrite(place, is_empty=transfer.is_empty(into), is_replacing=is_replacing)
                transfer.remove_rows(into)
                with source.engine.connect() as out_of:
                    transfer.copy_rows(out_of, into)
        except BaseException:
            target.close()
            raise
    return target


def refuse_to_overwrite(place: str, *, is_empty: bool, is_replacing: bool) -> None:
    """Refuse to put a studio where another one is, unless that was said."""
    if not is_empty and not is_replacing:
        raise InputError(
            f"there is a studio at {place} already; back it up, then say --replace, or name another place",
            field="studio",
            value=place,
        )


@contextmanager
def _opened_copy(file: Path) -> Iterator[Records]:
    """The backup as a copy with the newest tables: the file itself is never changed."""
    if not file.is_file():
        raise InputError(f"there is no file {file}", field="file", value=str(file))
    with TemporaryDirectory(prefix="restore-") as folder:
        copy = Path(shutil.copyfile(file, Path(folder) / "copy.sqlite"))
        if not studios.is_begun(str(copy)):
            raise DataFileError(f"{file} is not the backup of a studio")
        with closing(open_records(studios.studio_url(str(copy)))) as records:
            with records.engine.connect() as connection:
                wrong = transfer.faults(connection)
            if wrong:
                raise DataFileError(f"{file} is damaged: {wrong[0]}; use an older backup")
            upgrade_to_head(records.engine)
            yield records


def _copy_online(studio: Path, copy: Path) -> None:
    with closing(sqlite3.connect(studio)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)


def _copy_from_server(records: Records, copy: Path) -> None:
    with closing(open_records(f"sqlite:///{copy}")) as target:
        upgrade_to_head(target.engine)
        with records.engine.connect() as out_of, target.engine.begin() as into:
            transfer.copy_rows(out_of, into)


def _keep_in_one_file(copy: Path) -> None:
    with closing(sqlite3.connect(copy)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    with copy.open("rb") as written:
        os.fsync(written.fileno())
