"""Errors of hand-over files."""

from collections.abc import Sequence

from optim.errors import OptimError, Problem


class ExportError(OptimError):
    """Root of what can go wrong with hand-over files."""


class DesignFileError(ExportError, ValueError):
    """A design file that cannot be read, with every mistake found in it.

    Parameters
    ----------
    problems : sequence of Problem
        All mistakes, at least one.
    source : str
        File name or other origin, for the first line of the message.
    """

    def __init__(self, problems: Sequence[Problem], *, source: str) -> None:
        count = len(problems)
        head = f"{source}: {count} mistake{'s' if count != 1 else ''}"
        super().__init__("\n".join([head, *(f"  {p}" for p in problems)]))
        self.problems = tuple(problems)
        self.source = source

    def __reduce__(self) -> tuple[object, ...]:
        # The default would rebuild from the message text and lose the list.
        return (_rebuild, (self.problems, self.source))


def _rebuild(problems: tuple[Problem, ...], source: str) -> DesignFileError:
    return DesignFileError(problems, source=source)


class PackError(ExportError, OSError):
    """A hand-over pack that cannot be written where it was asked."""
