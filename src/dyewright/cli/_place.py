"""Where the studio of a command is: `--studio`, else DYEWRIGHT_STUDIO, else the folder that the system gives."""

import os
from typing import Annotated

import typer

__all__ = ["Studio", "demo_place", "own_place"]

Studio = Annotated[
    str | None,
    typer.Option(
        "--studio",
        metavar="PATH|URL",
        help="The studio: a folder, a file, or a postgresql:// URL. Else DYEWRIGHT_STUDIO, else your data folder.",
    ),
]


def own_place(studio: str | None) -> str:
    """Return the place of the dyer's own studio."""
    from dyewright.services import studios

    return studio or os.environ.get("DYEWRIGHT_STUDIO") or str(studios.default_folder())


def demo_place() -> str:
    """Return the place of the demo, a studio of its own beside the dyer's."""
    from dyewright.services import studios

    return str(studios.default_folder() / "demo.sqlite")
