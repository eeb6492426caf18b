"""Whether a studio and its installation are sound: one finding a thing."""

import re
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable

from dyewright.data._reader import provenance, rows
from dyewright.errors import StudioError
from dyewright.records import Records, differences_from_models, migration_state, open_records, transfer
from dyewright.services import studios

__all__ = ["Finding", "check"]

FONT_FOLDERS = ("sheets/fonts", "web/static/fonts")
FONT_SIGNATURES = {".ttf": b"\x00\x01\x00\x00", ".woff2": b"wOF2"}  # OpenType 1.9 "sfntVersion"; W3C WOFF2 section 4
SHOWN_AT_MOST = 3


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at, whether it is as it should be, and a sentence about it."""

    what: str
    is_ok: bool
    sentence: str


def check(place: str) -> list[Finding]:
    """Return what was found at a place and in the installation; nothing is changed."""
    return [*_studio(place), _looked_at("tables", _tables), _looked_at("fonts", _fonts)]


def _studio(place: str) -> Iterator[Finding]:
    try:
        if not studios.is_begun(place):
            yield Finding("studio", is_ok=True, sentence=f"none has begun at {place} yet")
            return
        records = open_records(studios.studio_url(place))
    except StudioError as error:
        yield Finding("studio", is_ok=False, sentence=error.message)
        return
    with closing(records):
        yield _looked_at("integrity", lambda: _integrity(records))
        yield _looked_at("migrations", lambda: _migrations(records))


def _looked_at(what: str, look: Callable[[], tuple[list[str], str]]) -> Finding:
    """A finding from a look that returns what is wrong, and what to say where nothing is."""
    try:
        wrong, well = look()
    except (StudioError, OSError, ValueError) as error:
        wrong, well = [str(error)], ""
    more = f" (and {len(wrong) - SHOWN_AT_MOST} more)" if len(wrong) > SHOWN_AT_MOST else ""
    return Finding(what, not wrong, "; ".join(wrong[:SHOWN_AT_MOST]) + more if wrong else well)


def _integrity(records: Records) -> tuple[list[str], str]:
    with records.engine.connect() as connection:
        return transfer.faults(connection), "the database is sound, and every reference in it has its row"


def _migrations(records: Records) -> tuple[list[str], str]:
    current, head = migration_state(records.engine)
    if current != head:
        return [f"the tables are at {current}, this version wants {head}; opening the studio brings them there"], ""
    with records.engine.connect() as connection:
        return differences_from_models(connection), f"the tables are at {head}, as this version wants them"


def _tables() -> tuple[list[str], str]:
    names = sorted(entry.name.removesuffix(".csv") for entry in _entries("data") if entry.name.endswith(".csv"))
    wrong = []
    for name in names:
        try:
            told = provenance(name)
            if not rows(name) or re.fullmatch(r"\d{4}-\d\d-\d\d", told.checked_on) is None:
                wrong.append(f"{name}: no rows, or no day on which it was checked")
        except (StudioError, OSError, ValueError) as error:
            wrong.append(f"{name}: {error}")
    return wrong, f"{len(names)} tables, each with where it comes from"


def _fonts() -> tuple[list[str], str]:
    fonts = [
        entry for folder in FONT_FOLDERS for entry in _entries(folder) if entry.name.endswith(tuple(FONT_SIGNATURES))
    ]
    wrong = [f"{font.name} is damaged" for font in fonts if not _has_signature(font)]
    if not fonts:
        wrong.append("the fonts are not installed; install dyewright again")
    return wrong, f"{len(fonts)} fonts for pages and print"


def _has_signature(font: Traversable) -> bool:
    (signature,) = (value for ending, value in FONT_SIGNATURES.items() if font.name.endswith(ending))
    with font.open("rb") as file:
        return file.read(len(signature)) == signature


def _entries(folder: str) -> list[Traversable]:
    there = files("dyewright").joinpath(folder)
    return list(there.iterdir()) if there.is_dir() else []
