"""Wrong usage, as the shell sees it: one sentence on stderr, nothing on stdout, exit code 2."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

COMMAND = shutil.which("dyewright", path=str(Path(sys.executable).parent))


def call(*arguments):
    return subprocess.run([COMMAND, *arguments], capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (["zorks"], "zorks"),
        (["water", "--zorks"], "--zorks"),
        (["water"], "--volume-l"),
        (["water", "--volume-l", "lots"], "--volume-l"),
        (["plan"], "card"),
    ],
)
def test_wrong_usage_is_one_sentence(arguments, named):
    answer = call(*arguments)
    assert answer.returncode == 2
    assert answer.stdout == ""
    assert named in answer.stderr
    assert len(answer.stderr.strip().splitlines()) == 1


def test_the_bare_command_shows_the_help():
    answer = call()
    assert answer.returncode == 0
    assert "Usage: dyewright" in answer.stdout


def test_a_failing_check_exits_with_1(tmp_path):
    broken = tmp_path / "studio.sqlite"
    broken.write_text("this was a studio once")
    assert call("check", "--studio", str(broken)).returncode == 1
