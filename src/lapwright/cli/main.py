"""The command `lapwright`: finds the command asked for, runs it, and turns errors into exit statuses.

A command's module is imported when it is asked for, so that `lapwright thickness` pays for nothing else. Each module
holds a Typer application named `app`.
"""

from __future__ import annotations

import importlib
import sys
from typing import Annotated, Any

import typer
import typer.core
import typer.main

from lapwright import __version__
from lapwright.errors import CommandLineError, Fault, LapwrightError

#: name -> module with the command
COMMANDS = {
    "thickness": "lapwright.cli.thickness",
    "bond": "lapwright.cli.bond",
    "heat": "lapwright.cli.heat",
    "stack": "lapwright.cli.stack",
    "pieces": "lapwright.cli.pieces",
    "debond": "lapwright.cli.debond",
    "jig": "lapwright.cli.jig",
    "adjusters": "lapwright.cli.adjusters",
    "turns": "lapwright.cli.turns",
    "kinematics": "lapwright.cli.kinematics",
    "queue": "lapwright.cli.queue",
    "plate": "lapwright.cli.plate",
    "feasible": "lapwright.cli.feasible",
    "route": "lapwright.cli.route",
    "rate": "lapwright.cli.rate",
    "prices": "lapwright.cli.prices",
    "quote": "lapwright.cli.quote",
    "fringes": "lapwright.cli.fringes",
    "roughness": "lapwright.cli.roughness",
    "shape": "lapwright.cli.shape",
    "capability": "lapwright.cli.capability",
    "chart": "lapwright.cli.chart",
    "uncertainty": "lapwright.cli.uncertainty",
    "settings": "lapwright.cli.settings",
    "order": "lapwright.cli.orders",
    "shelf": "lapwright.cli.shelf",
    "supplies": "lapwright.cli.supplies",
    "job": "lapwright.cli.jobs",
    "import": "lapwright.cli.imports",
    "certificate": "lapwright.cli.certificates",
    "demo": "lapwright.cli.demo",
    "watch": "lapwright.cli.watch",
    "record": "lapwright.cli.record",
    "people": "lapwright.cli.people",
    "serve": "lapwright.cli.serve",
    "export": "lapwright.cli.export",
    "verify": "lapwright.cli.verify",
    "streams": "lapwright.cli.streams",
    "move": "lapwright.cli.move",
    "backup": "lapwright.cli.backup",
    "restore": "lapwright.cli.restore",
    "doctor": "lapwright.cli.doctor",
    "reprocess": "lapwright.cli.reprocess",
    "campaign": "lapwright.cli.campaign",
}
#: What the parser raises for options it does not understand, whichever parser library Typer brings along.
_ParserError: type[Exception] = typer.BadParameter.__bases__[0]


class Commands(typer.core.TyperGroup):
    """The commands by name, each imported when first asked for."""

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002  the parser's signature
        """Names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ARG002  the parser's signature
        """The command of a name, None when there is none."""
        if cmd_name not in COMMANDS:
            return None
        command = typer.main.get_command(importlib.import_module(COMMANDS[cmd_name]).app)
        command.name = cmd_name
        return command


app = typer.Typer(
    cls=Commands,
    add_completion=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _print_version(*, wanted: bool) -> None:
    if wanted:
        typer.echo(f"lapwright {__version__}")
        raise typer.Exit


_VersionOption = Annotated[
    bool,
    typer.Option(
        "--version",
        callback=lambda value: _print_version(wanted=value),
        is_eager=True,
        help="Print the version and end.",
    ),
]


@app.callback()
def lapwright(*, version: _VersionOption = False) -> None:
    """Plan, measure, watch, decide and record the thinning of wafers and small flat samples."""
    del version  # its callback has done the work


def run(arguments: list[str] | None = None) -> None:
    """Run a command line and leave with its exit status."""
    given = sys.argv[1:] if arguments is None else arguments
    sys.exit(exit_status(given or ["--help"]))


def exit_status(arguments: list[str]) -> int:
    """Run a command line: 0 answered, 2 wrong question, 3 cannot answer, 130 interrupted."""
    as_json = "--json" in arguments
    try:
        status = typer.main.get_command(app).main(args=arguments, prog_name="lapwright", standalone_mode=False)
    except (KeyboardInterrupt, typer.Abort):
        sys.stderr.write("Interrupted.\n")
        return 130
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except Exception as error:  # noqa: BLE001  the last resort is a fault of ours, told in the same shape
        return _tell_error(error, as_json=as_json)
    return status if isinstance(status, int) else 0


# ----------------------------------------------------------------------------------------------------------------------


def _tell_error(error: Exception, *, as_json: bool) -> int:
    from lapwright.cli.answer import tell_failure

    if isinstance(error, LapwrightError):
        return tell_failure(error, as_json=as_json)
    if isinstance(error, _ParserError):
        if _is_call_for_help(error) and not as_json:
            sys.stderr.write(f"{error}\n")
            return 2
        return tell_failure(_parser_fault(error), as_json=as_json)
    import traceback

    traceback.print_exception(error)
    sentence = f"Lapwright failed on a fault of its own: {type(error).__name__}: {error}. Please report it."
    return tell_failure(LapwrightError(sentence), as_json=as_json)


def _is_call_for_help(error: Exception) -> bool:
    """Whether the parser only says that a family of commands was named without one of them."""
    return type(error).__name__ == "NoArgsIsHelpError"


def _parser_fault(error: Any) -> CommandLineError:
    command = error.ctx.command_path if getattr(error, "ctx", None) else "lapwright"
    found = "Missing command" if _is_call_for_help(error) else error.format_message().rstrip(".")
    sentence = f"{found}. See '{command} --help'."
    option = getattr(error, "option_name", None) or next(iter(getattr(getattr(error, "param", None), "opts", ())), None)
    return CommandLineError(sentence, faults=[Fault(sentence=sentence, field=option, code=CommandLineError.code)])
