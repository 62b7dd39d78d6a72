"""Errors of the optimiser. Each carries where, what was given, what is allowed, what to do."""

from collections.abc import Sequence
from dataclasses import dataclass


class OptimError(Exception):
    """Root of every error this package raises on purpose."""


@dataclass(frozen=True)
class Problem:
    """One mistake in a study.

    Attributes
    ----------
    where : str
        Table and key (`duty.supply.dc_voltage_v`), or the option that carried the value.
    given : str
        What stands there, shortened.
    allowed : str
        What may stand there.
    hint : str
        What to do, often the nearest spelling; may be empty.
    line : int or None
        Line of the file, counted from 1, where it is known.
    """

    where: str
    given: str
    allowed: str
    hint: str = ""
    line: int | None = None

    def __str__(self) -> str:
        place = f"line {self.line}, {self.where}" if self.line else self.where
        text = f"{place}: given {self.given}; allowed: {self.allowed}"
        return f"{text}. {self.hint}" if self.hint else text


class StudyError(OptimError, ValueError):
    """A study that cannot be run, with every mistake found in it.

    Parameters
    ----------
    problems : sequence of Problem
        All mistakes, at least one.
    source : str
        File name or other origin, for the first line of the message.
    """

    def __init__(self, problems: Sequence[Problem], *, source: str = "study") -> None:
        count = len(problems)
        head = f"{source}: {count} mistake{'s' if count != 1 else ''}"
        super().__init__("\n".join([head, *(f"  {p}" for p in problems)]))
        self.problems = tuple(problems)
        self.source = source

    def __reduce__(self) -> tuple[object, ...]:
        # The default would rebuild from the message text and lose the list.
        return (_rebuild_study_error, (self.problems, self.source))


def _rebuild_study_error(problems: tuple[Problem, ...], source: str) -> StudyError:
    return StudyError(problems, source=source)


class VectorError(OptimError, ValueError):
    """A design vector or parameter table that does not belong to the study's space."""


class MissingMetricError(OptimError, LookupError):
    """An evaluation lacks a metric that the study's objectives or limits need."""
