"""In which order candidates are asked for and results told, without any input or output.

In the fixed order, candidate n is asked for when exactly the results 0 .. n - lag have been told,
and results are told by number. The sequence of asks and tells is then one fixed sequence

    ask 0, ..., ask L-1, tell 0, ask L, tell 1, ask L+1, ...

whatever the number of workers, the order of arrival or the point of a resume, and with it
everything a deterministic search does. At most `lag` candidates are on their way at any time; only
a result that is late by more than `lag` candidates makes workers wait.

The free order tells results as they arrive and asks as soon as there is room. It is not repeatable
on another machine but records when each candidate was asked for, so that a resume can replay it.
"""

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from optim.jobs.errors import ScheduleError


@dataclass(frozen=True)
class Ask:
    """Ask the search for candidate `number`."""

    number: int


@dataclass(frozen=True)
class Tell:
    """Tell the search the result of candidate `number`."""

    number: int


Step = Ask | Tell


class Schedule(Protocol):
    """An order of asking and telling."""

    @property
    def asked(self) -> int:
        """How many candidates have been asked for: also the number of the next one."""

    @property
    def told(self) -> int:
        """How many results have been told."""

    @property
    def is_finished(self) -> bool:
        """Whether nothing more will be asked and every result that is due has been told."""

    def next_step(self) -> Step | None:
        """Return what to do now, counted as done, or None while a result is awaited."""

    def arrive(self, number: int) -> None:
        """Report that the result of a candidate is here."""

    def stop_asking(self) -> None:
        """Ask for no further candidate; what was asked is still told."""


class OrderedSchedule:
    """The fixed order.

    Parameters
    ----------
    lag : int
        See the module; at least 1. A lag of 1 is strictly one after another.
    budget : int
        How many candidates to ask for, at least 0.

    Raises
    ------
    ScheduleError
        If lag or budget is out of range, or an arrival is reported for a candidate that was not
        asked for or has arrived before.
    """

    def __init__(self, *, lag: int, budget: int) -> None:
        _check_counts(lag, budget)
        self._lag = lag
        self._budget = budget
        self._asked = 0
        self._told = 0
        self._here: set[int] = set()
        self._is_stopped = False

    @property
    def asked(self) -> int:
        """How many candidates have been asked for."""
        return self._asked

    @property
    def told(self) -> int:
        """How many results have been told."""
        return self._told

    @property
    def is_finished(self) -> bool:
        """Whether nothing more will be asked or told."""
        return self._told == self._asked and not self._may_ask()

    def next_step(self) -> Step | None:
        """Return what to do now, or None while a result is awaited."""
        # Asking goes first: with an ask due, one more tell would break the fixed sequence.
        if self._may_ask() and self._told == max(0, self._asked - self._lag + 1):
            self._asked += 1
            return Ask(self._asked - 1)
        if self._told in self._here:
            self._here.remove(self._told)
            self._told += 1
            return Tell(self._told - 1)
        return None

    def arrive(self, number: int) -> None:
        """Report that the result of a candidate is here."""
        if not self._told <= number < self._asked or number in self._here:
            raise ScheduleError(
                f"arrival of candidate {number}: allowed are those asked for ({self._told} to "
                f"{self._asked - 1}), once each"
            )
        self._here.add(number)

    def stop_asking(self) -> None:
        """Ask for no further candidate."""
        self._is_stopped = True

    def _may_ask(self) -> bool:
        return not self._is_stopped and self._asked < self._budget


class FreeSchedule:
    """The free order.

    Parameters
    ----------
    room : int
        How many candidates may be on their way, at least 1.
    budget : int
        How many candidates to ask for, at least 0.
    past : iterable of (number, told)
        Recorded asks by number, each with the count of results told before it, to be replayed;
        during the replay results must be reported in the order they were told.
    """

    def __init__(self, *, room: int, budget: int, past: Iterable[tuple[int, int]] = ()) -> None:
        _check_counts(room, budget)
        self.room = room
        self._budget = budget
        self._past = iter(past)
        self._next_past = next(self._past, None)
        self._asked = 0
        self._told = 0
        self._here: deque[int] = deque()
        self._awaited: set[int] = set()
        self._is_stopped = False

    @property
    def asked(self) -> int:
        """How many candidates have been asked for."""
        return self._asked

    @property
    def told(self) -> int:
        """How many results have been told."""
        return self._told

    @property
    def is_finished(self) -> bool:
        """Whether nothing more will be asked or told."""
        return self._told == self._asked and not self._may_ask()

    @property
    def is_replaying(self) -> bool:
        """Whether recorded asks are left."""
        return self._next_past is not None

    def next_step(self) -> Step | None:
        """Return what to do now, or None while a result is awaited."""
        if self._next_past is not None:
            number, told = self._next_past
            if number != self._asked or told < self._told:
                raise ScheduleError(
                    f"recorded ask {number} after {told} results does not follow ask "
                    f"{self._asked - 1} after {self._told}"
                )
            if self._told == told:
                self._next_past = next(self._past, None)
                return self._ask()
            return self._tell()
        # Telling goes first: the search should know all that is here before it is asked.
        return self._tell() or (
            self._ask() if self._may_ask() and self._asked - self._told < self.room else None
        )

    def arrive(self, number: int) -> None:
        """Report that the result of a candidate is here."""
        if number not in self._awaited:
            raise ScheduleError(f"arrival of candidate {number}, which is not on its way")
        self._awaited.remove(number)
        self._here.append(number)

    def stop_asking(self) -> None:
        """Ask for no further candidate, except those recorded."""
        self._is_stopped = True

    def _ask(self) -> Ask:
        self._asked += 1
        self._awaited.add(self._asked - 1)
        return Ask(self._asked - 1)

    def _tell(self) -> Tell | None:
        if not self._here:
            return None
        self._told += 1
        return Tell(self._here.popleft())

    def _may_ask(self) -> bool:
        if self._next_past is not None:
            return True
        return not self._is_stopped and self._asked < self._budget


class InFlight:
    """Which candidates wait for which design, so that equal designs are evaluated once."""

    def __init__(self) -> None:
        self._waiting: dict[str, list[int]] = {}

    def __len__(self) -> int:
        return sum(len(numbers) for numbers in self._waiting.values())

    def add(self, number: int, key: str) -> bool:
        """Note that a candidate waits for a design; return whether it is the first to do so."""
        numbers = self._waiting.setdefault(key, [])
        numbers.append(number)
        return len(numbers) == 1

    def land(self, key: str) -> tuple[int, ...]:
        """Return the candidates that waited for a design, first asked first, and forget them."""
        return tuple(self._waiting.pop(key))


def _check_counts(lag: int, budget: int) -> None:
    if lag < 1:
        raise ScheduleError(f"given lag {lag}; allowed: 1 or more")
    if budget < 0:
        raise ScheduleError(f"given budget {budget}; allowed: 0 or more")
