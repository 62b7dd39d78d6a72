"""The command `paretorque`: what a person types, thin over plain calls."""

import io
import sys
import traceback
from collections.abc import Mapping, Sequence
from importlib import import_module
from typing import Any, cast

import typer

from optim.service.documents import error_document, line_of
from optim.service.failures import DONE, INTERRUPTED, OUR_FAULT, USAGE, exit_code, problems_of

HELP = """Search the trade-offs of an electric traction motor.

A study file says what may vary, what is wanted and what must hold. A run searches it; its front
is ranked, looked at, exported, and run again with tighter limits.

\b
  paretorque check studies/island-post-van.toml
  paretorque run   studies/island-post-van.toml
  paretorque front last

Exit codes: 0 done, 1 our fault, 2 usage or study file, 3 nothing feasible, 4 too many failed
evaluations, 130 interrupted.
"""

COMMANDS: Mapping[str, tuple[str, str]] = {
    # name -> (module with a function of that name, what it does in a line)
    "check": ("commands_run", "Validate a study and estimate its run."),
    "run": ("commands_run", "Search a study."),
    "watch": ("commands_run", "Follow a run that another process drives."),
    "front": ("commands_front", "Rank the candidates of a run."),
    "pick": ("commands_front", "Show a candidate in full."),
    "export": ("commands_design", "Write a candidate's hand-over pack."),
    "verify": ("commands_verify", "Put the front through the field model."),
    "section": ("commands_section", "Write a design's section as open polygons."),
    "rerun": ("commands_run", "Run again under other aims."),
    "evaluate": ("commands_design", "Evaluate one design."),
    "compare": ("commands_design", "Put two designs side by side."),
    "runs": ("commands_front", "List the runs of the store."),
    "serve": ("commands_service", "Serve studies as jobs, with a web page."),
    "submit": ("commands_remote", "Hand a study to a service."),
    "job": ("commands_remote", "Pause, resume, cancel or delete a service's run."),
    "profile": ("commands_remote", "Save a service's URL and token under a name."),
    "token": ("commands_service", "Give access to a service, or take it away."),
}

# Of the library or of the one it is built on, as its version has it: all carry `format_message`.
_UsageFailure = cast(
    type[Exception],
    next(c for c in reversed(typer.BadParameter.__mro__) if hasattr(c, "format_message")),
)


def main() -> None:
    """Run the command line and leave with its exit code."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal of few characters shall show a question mark, not end the command.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    sys.exit(command_line(sys.argv[1:]))


def make_app(names: Sequence[str] = tuple(COMMANDS)) -> typer.Typer:
    """Return the application with some commands; only their modules are loaded."""
    app = typer.Typer(
        help=HELP, add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["--help", "-h"]},
    )  # fmt: skip
    # With a single command the library would drop its name from the line; this keeps it.
    app.callback()(lambda: None)
    for name in names:
        module, line = COMMANDS[name]
        function = getattr(import_module(f"optim.service.{module}"), name)
        app.command(name, short_help=line)(function)
    return app


def command_line(arguments: Sequence[str]) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str
        What stands after the program's name.

    Returns
    -------
    int
        Exit code.
    """
    is_json = "--json" in arguments
    # A reading command loads neither cluster nor search.
    wanted = arguments[:1] if arguments and arguments[0] in COMMANDS else tuple(COMMANDS)
    try:
        app = make_app(tuple(wanted))
        code = app(list(arguments) or ["--help"], standalone_mode=False, prog_name="paretorque")
    except _UsageFailure as error:
        return _fail(USAGE, _usage_text(error), is_json=is_json)
    except (KeyboardInterrupt, typer.Abort):
        return _fail(INTERRUPTED, "interrupted", is_json=is_json)
    except BrokenPipeError:
        # The reader has seen enough (`paretorque front last | head`).
        sys.stdout = None
        return DONE
    except Exception as error:  # every error ends a command with a message and a code
        number = exit_code(error)
        if number == OUR_FAULT and ("-v" in arguments or "--verbose" in arguments):
            traceback.print_exc()
        return _fail(number, _text(error, number), error=error, is_json=is_json)
    return int(code or DONE)


def _fail(code: int, message: str, *, error: Exception | None = None, is_json: bool) -> int:
    if is_json:
        problems = problems_of(error) if error is not None else ()
        print(line_of(error_document(code, message, problems)), file=sys.stderr)
    else:
        print(message, file=sys.stderr)
    return code


def _text(error: Exception, code: int) -> str:
    is_known = type(error).__module__.partition(".")[0] in ("models", "optim")
    if is_known:
        return str(error)
    advice = "" if code != OUR_FAULT else "; run it again with --verbose for the full report"
    return f"{type(error).__name__}: {error}{advice}"


def _usage_text(error: Any) -> str:
    context = getattr(error, "ctx", None)
    text = str(error.format_message())
    if context is None:
        return text
    return f"{context.command_path}: {text}\nSee '{context.command_path} --help'."


if __name__ == "__main__":
    main()
