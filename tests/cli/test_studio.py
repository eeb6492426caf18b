import json
import subprocess
import sys
from pathlib import Path

import pytest

from dyewright.services import studios


def dyewright(*arguments, cwd, **environment):
    """Run the command as a user would, with a data folder of the test's own."""
    return subprocess.run(
        [Path(sys.executable).with_name("dyewright"), *map(str, arguments)],
        cwd=cwd,
        env={"PATH": "/usr/bin:/bin", "HOME": str(cwd), "XDG_DATA_HOME": str(cwd / "data"), **environment},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


@pytest.fixture
def studio(tmp_path):
    place = tmp_path / "mine"
    studios.begin_studio(str(place), name="Boathouse").close()
    return place


def test_backup_restore_export_import_and_check(studio, tmp_path):
    done = dyewright("backup", "saved.sqlite", "--studio", studio, cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "backed up in" in done.stdout

    refused = dyewright("restore", "saved.sqlite", "--studio", studio, cwd=tmp_path)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "there is a studio at" in refused.stderr
    assert len(refused.stderr.strip().splitlines()) == 1

    assert dyewright("restore", "saved.sqlite", "--studio", studio, "--replace", cwd=tmp_path).returncode == 0

    exported = dyewright("export", "out", "--json", cwd=tmp_path, DYEWRIGHT_STUDIO=str(studio))
    assert json.loads(exported.stdout) == {"folder": str(tmp_path / "out")}

    # Without --studio and DYEWRIGHT_STUDIO, the place is the platform's data folder.
    assert dyewright("import", "out", cwd=tmp_path).returncode == 0
    assert (tmp_path / "data" / "dyewright" / "studio.sqlite").is_file()

    checked = dyewright("check", cwd=tmp_path)
    assert checked.returncode == 0
    assert [line.split(":")[0] for line in checked.stdout.splitlines()] == [
        "integrity",
        "migrations",
        "tables",
        "fonts",
    ]


def test_check_exits_1_when_anything_is_wrong(tmp_path):
    (tmp_path / "broken.sqlite").write_text("no database " * 500)
    checked = dyewright("check", "--studio", "broken.sqlite", "--json", cwd=tmp_path)
    assert checked.returncode == 1
    answer = json.loads(checked.stdout)
    assert answer["is_sound"] is False
    assert answer["findings"][0]["what"] == "studio"


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (["backup", "saved.sqlite"], 1, "there is no studio at"),
        (["restore", "none.sqlite"], 2, "there is no file none.sqlite"),
        (["import", "nowhere"], 1, "is no exported studio"),
        (["backup", "saved.sqlite", "--studio", "mysql://host/x"], 2, "only SQLite files and postgresql:// URLs"),
        (["backup"], 2, "Missing argument"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(tmp_path, arguments, code, sentence):
    done = dyewright(*arguments, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (code, "")
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr


def test_no_command_waits_for_the_libraries_of_another():
    heavy = ("scipy", "sqlalchemy", "alembic", "fastapi", "PIL", "cv2", "altair", "vl_convert", "typst")
    asked = f"import sys, dyewright.cli; print(*(set({heavy}) & set(sys.modules)))"
    loaded = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True, timeout=60)
    assert loaded.stdout.split() == []
