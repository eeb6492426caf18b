"""How a command answers: one JSON object or printed lines on stdout; errors as one sentence on stderr.

Exit codes: 0 success, 2 wrong usage or wrong input, 1 anything else that the studio can say in a sentence.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import typer

from dyewright.errors import InputError, StudioError
from dyewright.services.plain import plain

__all__ = ["answering", "card_text", "emit_json"]

EXIT_WRONG_INPUT = 2
EXIT_FAILED = 1
LARGEST_CARD_BYTES = 1_000_000  # a card is a page of text; more is some other file


def emit_json(result: object) -> None:
    """Print a result as one JSON object on stdout."""
    typer.echo(json.dumps(plain(result), ensure_ascii=False, allow_nan=False))


@contextmanager
def answering() -> Iterator[None]:
    """Turn the project's errors into a sentence on stderr and an exit code."""
    try:
        yield
    except InputError as error:
        typer.echo(error.message, err=True)
        raise typer.Exit(EXIT_WRONG_INPUT) from error
    except StudioError as error:
        typer.echo(error.message, err=True)
        raise typer.Exit(EXIT_FAILED) from error


def card_text(path: Path) -> str:
    """Return the text of a card's file.

    Raises:
        InputError: no such file, one too large for a card, or one that is no text.
    """
    try:
        if path.stat().st_size > LARGEST_CARD_BYTES:
            raise InputError(
                f"{path} is too large for a card ({path.stat().st_size} bytes, {LARGEST_CARD_BYTES} at most): a card "
                "is a short TOML text",
                field="card",
                limit=LARGEST_CARD_BYTES,
            )
        return path.read_text(encoding="utf-8")
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise InputError(f"the card {path} cannot be read: {reason}", field="card", value=str(path)) from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is no card: it is not text in UTF-8", field="card", value=str(path)) from error
