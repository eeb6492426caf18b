"""A demo studio made once and copied for each test, because making it takes seconds."""

import shutil
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from dyewright.services import demo

__all__ = ["place_demo"]


@cache
def _made() -> Path:
    file = Path(mkdtemp(prefix="dyewright-demo-")) / "demo.sqlite"
    demo.make_demo(
        str(file), now=datetime.now(UTC)
    ).close()  # the last connection to close folds the write-ahead log into the file
    return file


def place_demo(folder: Path) -> str:
    """Put a copy of the demo studio into a folder and return its place."""
    return str(shutil.copy(_made(), folder / "demo.sqlite"))
