"""Photographs of the 24-patch chart that lie in the example notebooks of the colour-checker-detection wheel (BSD-3).

The wheel is fetched by the package installer of this environment, kept in the user's cache, and read as a zip file; it
is never installed and its pictures never enter the repository.
"""

import base64
import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import platformdirs
import pytest

WHEEL = "colour-checker-detection==0.2.3"
PATTERN = "colour_checker_detection-0.2.3-*.whl"


def checker_photo(notebook: str, cell: int, output: int) -> bytes:
    """Return one picture of a notebook as PNG bytes, or skip the test with the reason."""
    with zipfile.ZipFile(_wheel()) as wheel:
        name = next(entry for entry in wheel.namelist() if entry.endswith(f"/{notebook}.ipynb"))
        cells = json.loads(wheel.read(name))["cells"]
    return base64.b64decode("".join(cells[cell]["outputs"][output]["data"]["image/png"]))


def checker_photos(notebook: str) -> list[tuple[int, int]]:
    """Return the cells and outputs of a notebook that hold a picture, or skip the test with the reason."""
    with zipfile.ZipFile(_wheel()) as wheel:
        name = next(entry for entry in wheel.namelist() if entry.endswith(f"/{notebook}.ipynb"))
        cells = json.loads(wheel.read(name))["cells"]
    return [
        (number, place)
        for number, cell in enumerate(cells)
        for place, output in enumerate(cell.get("outputs", []))
        if "image/png" in output.get("data", {})
    ]


def _wheel() -> Path:
    cache = Path(os.environ.get("DYEWRIGHT_TEST_CACHE") or platformdirs.user_cache_path("dyewright-tests"))
    for folder in (cache, Path.cwd()):
        found = sorted(folder.glob(PATTERN))
        if found:
            return found[0]
    cache.mkdir(parents=True, exist_ok=True)
    for installer in _installers():
        command = [*installer, "download", "--no-deps", "--quiet", "--dest", str(cache), WHEEL]
        subprocess.run(command, check=False, capture_output=True, timeout=240)
        found = sorted(cache.glob(PATTERN))
        if found:
            return found[0]
    pytest.skip(f"the wheel {WHEEL} with the chart photographs could not be obtained")


def _installers() -> list[list[str]]:
    own = [sys.executable, "-m", "pip"]
    beside = [[found] for name in ("pip", "pip3") if (found := shutil.which(name))]
    through_uv = [[found, "tool", "run", "pip"] for name in ("uv",) if (found := shutil.which(name))]
    return [own, *beside, *through_uv]
