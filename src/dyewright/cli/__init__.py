"""The command line: every computing step of the studio, scriptable through --json."""

from dyewright.cli.main import app, run

__all__ = ["app", "run"]
