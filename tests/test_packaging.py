"""What is installed is complete, and what is committed names no machine and no package registry."""

import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "dyewright"
# A registry's host, or a folder of one machine.
TELLTALE = re.compile(rb"py" + rb"pi\.org|python" + rb"hosted|(?<![\w.~$}/-])/(?:work|root|home/\w+)/")
SELDOM_TEXT = {".jpg", ".png", ".ttf", ".woff2", ".ico"}


def committed():
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if done.returncode != 0:
        pytest.skip("this is no git checkout, so what is committed cannot be told")
    return [ROOT / name for name in done.stdout.decode().split("\0") if name and (ROOT / name).is_file()]


def test_no_file_names_a_registry_or_a_folder_of_one_machine():
    files = [file for file in committed() if file.suffix not in SELDOM_TEXT]
    assert len(files) > 300
    telling = {file.name: TELLTALE.search(file.read_bytes()) for file in files}
    assert not {name: found[0] for name, found in telling.items() if found}


def test_locks_are_hashed_and_the_run_lock_is_part_of_the_test_lock():
    locked = {}
    for name in ("run", "test"):
        text = (ROOT / "requirements" / f"{name}.txt").read_text(encoding="utf-8")
        entries = re.split(r"\n(?=\S)", text.strip())
        assert all("--hash=sha256:" in entry for entry in entries), name
        locked[name] = {entry.split("\\")[0].split(";")[0].strip() for entry in entries}
    assert locked["run"] <= locked["test"]


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """The package as a wheel holds it, unpacked away from the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    build = "import sys; from hatchling.build import build_wheel; print(build_wheel(sys.argv[1]))"
    made = subprocess.run(
        [sys.executable, "-c", build, str(folder)], cwd=ROOT, capture_output=True, text=True, check=True
    )
    with zipfile.ZipFile(folder / made.stdout.strip().splitlines()[-1]) as wheel:
        wheel.extractall(folder / "site")
    return folder / "site"


def test_a_wheel_holds_every_file_of_the_package(installed):
    ours = {file.relative_to(PACKAGE) for file in committed() if file.is_relative_to(PACKAGE)}
    assert ours
    assert not ours - {file.relative_to(installed / "dyewright") for file in (installed / "dyewright").rglob("*")}


def test_an_installed_wheel_makes_the_demo_prints_a_sheet_and_is_sound(installed, tmp_path):
    script = f"""
import dyewright
from datetime import UTC, datetime
assert dyewright.__file__.startswith({str(installed)!r}), dyewright.__file__
from dyewright.services import demo
demo.make_demo("demo.sqlite", now=datetime.now(UTC)).close()
from dyewright.cli import app
for arguments in (["check", "--studio", "demo.sqlite"], ["plan", "card.toml", "--pdf", "sheet.pdf"]):
    try:
        app(arguments)
    except SystemExit as done:
        assert not done.code, arguments
"""
    (tmp_path / "card.toml").write_bytes((ROOT / "docs" / "examples" / "first-pot.toml").read_bytes())
    environment = {**os.environ, "PYTHONPATH": str(installed), "XDG_DATA_HOME": str(tmp_path / "data")}
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert {"integrity", "migrations", "tables", "fonts"} <= {line.split(":")[0] for line in done.stdout.splitlines()}
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF-")
