"""The commands on the studio as a whole: backup, restore, export, import, check.

The database is imported by the commands that open it: those that only compute start without it.
"""

from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from dyewright.cli._output import EXIT_FAILED, answering, emit_json
from dyewright.cli._place import Studio, own_place

__all__ = ["backup", "check", "export", "import_", "restore"]

Json = Annotated[bool, typer.Option("--json", help="Answer with one JSON object.")]
Replace = Annotated[bool, typer.Option("--replace", help="Replace the studio that is there.")]


def _answer(key: str, path: Path | str, sentence: str, *, as_json: bool) -> None:
    if as_json:
        emit_json({key: str(path)})
    else:
        typer.echo(sentence)


def backup(
    file: Annotated[Path, typer.Argument(help="The file to write.")], *, studio: Studio = None, json: Json = False
) -> None:
    """Write the whole studio to one file, also while it is in use."""
    from dyewright.services import safekeeping, studios

    with answering(), closing(studios.open_studio(own_place(studio))) as records:
        written = safekeeping.backup(records, file)
        _answer("file", written, f"The studio is backed up in {written}.", as_json=json)


def restore(
    file: Annotated[Path, typer.Argument(help="A backup.")],
    *,
    studio: Studio = None,
    replace: Replace = False,
    json: Json = False,
) -> None:
    """Put a backup back."""
    from dyewright.services import safekeeping

    with answering():
        place = own_place(studio)
        safekeeping.restore(place, file, is_replacing=replace).close()
        _answer("studio", place, f"The studio at {place} is as it was in {file}.", as_json=json)


def export(
    folder: Annotated[Path, typer.Argument(help="A new folder.")], *, studio: Studio = None, json: Json = False
) -> None:
    """Write the studio as a folder of tables, cards and photos that other programs can read."""
    from dyewright.services import moving, studios

    with answering(), closing(studios.open_studio(own_place(studio))) as records:
        written = moving.export_studio(records, folder, now=datetime.now(UTC))
        _answer("folder", written, f"The studio is exported to {written}.", as_json=json)


def import_(
    folder: Annotated[Path, typer.Argument(help="A folder that export wrote.")],
    *,
    studio: Studio = None,
    replace: Replace = False,
    json: Json = False,
) -> None:
    """Put an exported studio in place."""
    from dyewright.services import moving

    with answering():
        place = own_place(studio)
        moving.import_studio(place, folder, is_replacing=replace).close()
        _answer("studio", place, f"The studio from {folder} is at {place}.", as_json=json)


def check(*, studio: Studio = None, json: Json = False) -> None:
    """Look whether the studio and the installation are sound; exit 1 if anything is wrong."""
    from dyewright.services import checks

    with answering():
        findings = checks.check(own_place(studio))
    is_sound = all(finding.is_ok for finding in findings)
    if json:
        emit_json({"is_sound": is_sound, "findings": findings})
    else:
        for finding in findings:
            typer.echo(f"{finding.what}: {'' if finding.is_ok else 'WRONG: '}{finding.sentence}")
    if not is_sound:
        raise typer.Exit(EXIT_FAILED)
