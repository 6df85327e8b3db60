"""The command line: one file a verb, no arithmetic.

Answers go to standard output, remarks to standard error.  Exit codes: 0 criteria
met, 1 computed but not met, 2 input cannot be used, 3 program error.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
import warnings
from collections.abc import Sequence
from typing import Annotated, Any, NoReturn, TextIO

import typer

from powerbudget.cli import (
    check,
    compare,
    diff,
    doctor,
    fleet,
    import_lists,
    keys,
    loads,
    manual,
    new,
    parts,
    report,
    review,
    run,
    schema,
    size,
    weather,
)
from powerbudget.cli.common import print_json
from powerbudget.cli.streams import UnwrittenError, give_up_output, make_fit
from powerbudget.errors import Fault, InputError, PowerBudgetError, PowerBudgetWarning
from powerbudget.quantities import count

# Completion is for the shell that is asked for: typer takes its name only where it does
# not look for the shell that it runs in, and that script is of no use in another.
os.environ.setdefault("_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION", "1")
USAGE: type[Exception] = typer.BadParameter.__mro__[1]
"""What the library of the command line raises for words that it does not know."""
app = typer.Typer(
    name="powerbudget",
    help="Power budget, hourly simulation, and sizing of unattended off-grid "
    "sites.\n\nStart with `powerbudget new my-site.toml`, edit the file, "
    "then run `powerbudget loads my-site.toml`, `run`, and "
    "`size`.\n\nResults go to standard output, remarks to standard error. "
    "Exit codes: 0 criteria pass, 1 criteria fail, 2 input error, 3 program "
    "error.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for module, verb in (
    (new, "new"),
    (import_lists, "import"),
    (parts, "parts"),
    (loads, "loads"),
    (weather, "weather"),
    (run, "run"),
    (size, "size"),
    (check, "check"),
    (review, "review"),
    (compare, "compare"),
    (diff, "diff"),
    (report, "report"),
    (fleet, "fleet"),
    (keys, "keys"),
    (schema, "schema"),
    (doctor, "doctor"),
    (manual, "help"),
):
    app.command(verb)(module.command)


@app.callback(invoke_without_command=True)
def _root(
    *,
    version: Annotated[
        bool, typer.Option("--version", help="Print the version and stop.")
    ] = False,
) -> None:
    if version:
        from powerbudget.version import __version__

        typer.echo(__version__)
        raise typer.Exit


def main() -> None:
    """Run the command line and turn every failure into one plain message."""
    # A process that lives two seconds spends an eighth of them looking for cycles
    # among freshly imported modules.
    gc.disable()
    # Exit code 1 means "criteria not met"; an interrupted run has not found that out.
    signal.signal(signal.SIGINT, _interrupted)
    make_fit()
    warnings.showwarning = _remarked
    try:
        try:
            # The name that a shell completes, however the program was started.
            sys.exit(app(prog_name="powerbudget", standalone_mode=False) or 0)
        except PowerBudgetError as exc:
            sys.exit(_say(exc))
        except USAGE as exc:
            sys.exit(_say_usage(exc))
        except typer.Abort:
            _interrupted()
        finally:
            sys.stdout.flush()
    except UnwrittenError as exc:
        give_up_output()
        # A reader that went away, such as `head`, is no error of ours.
        if not isinstance(exc.__cause__, BrokenPipeError):
            sys.stderr.write(f"The answer cannot be written: {exc.__cause__}.\n")
            sys.exit(2)
        sys.exit(0)
    except OSError as exc:
        sys.stderr.write(f"The answer cannot be written: {exc.strerror or exc}.\n")
        sys.exit(2)
    except Exception as exc:  # noqa: BLE001 - a user never sees a traceback
        sys.stderr.write(
            f"Program error (not caused by your input): {type(exc).__name__}: {exc}\nPlease "
            "report it with the site file.\n"
        )
        sys.exit(3)


def _interrupted(*_: object) -> NoReturn:
    sys.stderr.write("Interrupted; no answer was written.\n")
    sys.exit(130)


def _remarked(
    message: Warning | str,
    category: type[Warning],
    filename: str,
    lineno: int,
    file: TextIO | None = None,
    line: str | None = None,
) -> None:
    said = f"{message}\n"
    if not issubclass(category, PowerBudgetWarning):
        said = warnings.formatwarning(message, category, filename, lineno, line)
    (file or sys.stderr).write(said)


def _say_usage(error: Any) -> int:
    """Write what is wrong with a command line, with its usage, and as JSON likewise."""
    error.show()
    verb = error.ctx.command_path if error.ctx else "powerbudget"
    fault = Fault(verb, error.format_message(), advice=f"{verb} --help")
    return _as_json("The command line cannot be used", error.exit_code, [fault])


def _as_json(title: str, code: int, faults: Sequence[Fault]) -> int:
    """Print faults as one object where JSON was asked for, and return the exit code."""
    if "--json" in sys.argv[1:]:
        print_json({"result": title, "exit_code": code, "faults": faults})
    return code


def _say(error: PowerBudgetError) -> int:
    """Write the faults for people, and as one JSON object where JSON was asked for."""
    title, head, faults = "The input cannot be used", "", [Fault("", str(error))]
    lines: Sequence[object] = [error]
    if isinstance(error, InputError):
        title, faults = error.title, list(error.faults)
        head, lines = f": {count(len(faults), error.counted)}", faults
    sys.stderr.write(f"{title}{head}.\n" + "".join(f"- {each}\n" for each in lines))
    return _as_json(title, error.exit_code, faults)
