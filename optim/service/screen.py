"""Where a command writes: results to standard output, everything else to standard error."""

import sys
from dataclasses import dataclass
from typing import Any

from rich.console import Console, RenderableType

from optim.service.documents import Document, line_of, text_of

_WIDTH_WITHOUT_TERMINAL = 100


@dataclass(frozen=True)
class Screen:
    """The two streams and how talkative to be.

    Attributes
    ----------
    out, err : Console
        Standard output and standard error.
    is_json : bool
        Whether results are documents instead of tables.
    is_quiet : bool
        Whether to leave out progress and advice.
    """

    out: Console
    err: Console
    is_json: bool = False
    is_quiet: bool = False

    def show(self, *parts: RenderableType) -> None:
        """Print a result for people, unless documents are wanted."""
        if not self.is_json:
            for part in parts:
                self.out.print(part)

    def show_document(self, content: Document, *, is_line: bool = False) -> None:
        """Print a result as a document, if documents are wanted."""
        if self.is_json:
            # Past the console, which would fold long lines.
            print(line_of(content) if is_line else text_of(content), flush=True)

    def say(self, *parts: RenderableType) -> None:
        """Print what is no result to standard error, unless quiet."""
        if not self.is_quiet:
            for part in parts:
                self.err.print(part)

    def advise(self, *lines: str) -> None:
        """Print what to do next beside a result for people."""
        if not (self.is_json or self.is_quiet):
            self.out.print()
            self.out.print("next", style="bold")
            for line in lines:
                self.out.print(f"  {line}", soft_wrap=True)


def make_screen(*, is_json: bool = False, is_quiet: bool = False) -> Screen:
    """Return the screen of a command."""
    return Screen(_console(sys.stdout), _console(sys.stderr), is_json, is_quiet)


def _console(stream: Any) -> Console:
    console = Console(file=stream, highlight=False, markup=False, emoji=False)
    if not console.is_terminal and "COLUMNS" not in console._environ:
        console.width = _WIDTH_WITHOUT_TERMINAL
    return console
