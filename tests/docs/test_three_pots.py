"""The page of three pots is held to the commands: every line that it shows is one that they print."""

import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dyewright.cli import app

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "three-pots.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```console\n\$ dyewright (.+)\n((?:.+\n)+)```", PAGE)


def test_the_page_has_its_three_pots_foretold_and_seen():
    cards = {command.split()[1] for command, _ in BLOCKS}
    assert len(cards) == 3
    assert all(any("--observe" in command for command, _ in BLOCKS if card in command) for card in cards)


@pytest.mark.parametrize(("command", "shown"), BLOCKS, ids=[command[:60] for command, _ in BLOCKS])
def test_each_line_is_what_the_command_prints(command, shown, monkeypatch):
    monkeypatch.chdir(ROOT)
    done = CliRunner().invoke(app, shlex.split(command))
    assert done.exit_code == 0, done.output
    printed = done.output.replace("\u202f", " ").splitlines()  # the page has plain spaces before its units
    assert [line for line in shown.splitlines() if line not in printed] == []
