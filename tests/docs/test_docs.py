"""The docs are held to the code: links lead somewhere, commands have their page, tables their origin."""

import re
import tomllib
from pathlib import Path

import pytest
import typer.main

from dyewright.cli import app

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "CHANGELOG.md", *sorted((ROOT / "docs").rglob("*.md"))]
TABLES = sorted((ROOT / "src" / "dyewright" / "data").glob("*.csv"))
LINK = re.compile(r"\]\((?!https?:|#|mailto:)([^)#]+)")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_of_a_page_leads_somewhere(page):
    targets = LINK.findall(page.read_text(encoding="utf-8"))
    missing = [target for target in targets if not (page.parent / target).exists()]
    assert not missing


def test_every_command_and_option_stands_on_the_page_of_commands():
    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    group = typer.main.get_command(app)
    for name, command in group.commands.items():
        assert f"`dyewright {name}" in page, name
        for parameter in command.params:
            for option in parameter.opts:
                assert not option.startswith("--") or option in page, f"{name} {option}"


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.stem)
def test_every_shipped_table_says_where_it_comes_from(table):
    origin = tomllib.loads(table.with_suffix(".toml").read_text(encoding="utf-8"))
    assert {"title", "reference", "obtained", "checked_on"} <= origin.keys()


def test_every_core_model_has_its_science_page():
    named = " ".join(page.read_text(encoding="utf-8") for page in (ROOT / "docs" / "science").glob("*.md"))
    for module in ("acidity", "bath", "heat", "uptake", "reactive", "rinse", "colour", "mixing", "matching", "skeins"):
        assert f"core/{module}" in named or f"core.{module}" in named, module
