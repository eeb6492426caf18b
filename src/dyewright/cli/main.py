"""The command `dyewright`: its parts, joined.

Each command imports its own service, so that the others need not wait for the libraries behind it.
"""

import sys
from typing import cast

import typer

import dyewright
from dyewright.cli import studio
from dyewright.cli._output import EXIT_FAILED, EXIT_WRONG_INPUT
from dyewright.cli.colour import difference, match, overdye, shade
from dyewright.cli.forecast import forecast_card
from dyewright.cli.judge import judge
from dyewright.cli.palette import palette
from dyewright.cli.plan import plan_card
from dyewright.cli.series import series
from dyewright.cli.serving import demo, serve
from dyewright.cli.water import water

__all__ = ["app", "run"]

app = typer.Typer(
    name="dyewright",
    help="Plan a dye bath, foretell it, watch it, judge the skeins, keep the record.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
)


def _show_version(*, wanted: bool) -> None:
    if wanted:
        typer.echo(dyewright.__version__)
        raise typer.Exit


@app.callback()
def _main(
    *,
    version: bool = typer.Option(
        False, "--version", help="Print the version.", callback=lambda value: _show_version(wanted=value)
    ),
) -> None:
    """Plan a dye bath, foretell it, watch it, judge the skeins, keep the record."""


app.command()(water)
app.command("plan")(plan_card)

app.command()(serve)
app.command()(demo)
app.command()(studio.backup)
app.command()(studio.restore)
app.command()(studio.export)
app.command("import")(studio.import_)
app.command()(studio.check)
app.command("forecast")(forecast_card)
app.command()(shade)
app.command()(match)
app.command()(palette)
app.command()(overdye)
app.command()(series)
app.command()(difference)
app.command()(judge)

_UsageError = cast(
    "type[typer.BadParameter]", typer.BadParameter.__mro__[1]
)  # Typer keeps the class private; its public subclass leads to it


def run() -> None:
    """Run the command that the shell names; wrong usage is one sentence on stderr and exit code 2."""
    command = typer.main.get_command(app)
    try:
        code = command.main(args=sys.argv[1:] or ["--help"], standalone_mode=False)
    except _UsageError as error:
        sentence = error.format_message().rstrip(".")
        typer.echo(f"{sentence}. `dyewright --help` and `dyewright COMMAND --help` say what there is.", err=True)
        sys.exit(EXIT_WRONG_INPUT)
    except typer.Abort:
        sys.exit(EXIT_FAILED)
    sys.exit(code or 0)
