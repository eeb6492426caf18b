"""How a command answers: one JSON object or printed lines on stdout; errors as one sentence on stderr.

Exit codes: 0 success, 2 wrong usage or wrong input, 1 anything else that the studio can say in a sentence.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager

import typer

from dyewright.errors import InputError, StudioError
from dyewright.services.plain import plain

__all__ = ["answering", "emit_json"]

EXIT_WRONG_INPUT = 2
EXIT_FAILED = 1


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
