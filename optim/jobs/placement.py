"""Which worker evaluates which designs, without any input or output.

Every batch is sent to a named worker, so that it is always known what a lost or hanging worker was
doing. Everything on a lost worker becomes suspect; suspects are evaluated alone, each on a worker
that has nothing else, and only a loss during such an evaluation counts against a design. A
poisonous design therefore takes no other design with it, and an innocent one that shared a worker
with it is not blamed.
"""

import heapq
import math
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

ROUND_TRIP = 0.015
"""Time between a batch's end and the next one's start on the worker [s] (measured 11-15 ms)."""

SCHEDULER_TIME = 0.003
"""Time the scheduler needs for a batch [s] (measured 1.8-3 ms)."""


@dataclass(frozen=True)
class PlacementSettings:
    """How designs are put into batches and when one is given up.

    Attributes
    ----------
    time_limit : float
        Longest time of one evaluation [s], > 0.
    start_grace : float
        Time allowed on top [s] for a worker to load the program, and for the evaluations on a
        host where none has finished yet, which may have to compile.
    batch_seconds : float
        Time a batch should take [s].
    batch : int
        Designs per batch; 0 to choose from measured times.
    max_losses : int
        A design is given up when so many workers were lost while evaluating it alone.
    queue_grace : float
        Time allowed on top [s] for the batches of other runs that a worker may have to do first.
    """

    time_limit: float = 60.0
    start_grace: float = 60.0
    batch_seconds: float = 0.05
    batch: int = 0
    max_losses: int = 2
    queue_grace: float = 0.0

    def shared(self, runs: int) -> "PlacementSettings":
        """Return the settings for workers that several runs share, `runs` >= 1 in all.

        A run sends a worker two batches at most. What one run's designs do to a worker must not
        be held against the designs of another: a loss may be theirs, so it takes more of them.
        """
        if runs < 2:
            return self
        return replace(
            self,
            queue_grace=2.0 * (runs - 1) * self.time_limit,
            max_losses=2 * self.max_losses,
        )


@dataclass(frozen=True)
class Batch:
    """Designs sent to a worker together; none for a first batch that only loads the program."""

    serial: int
    worker: str
    numbers: tuple[int, ...]
    is_alone: bool


@dataclass
class _Bench:
    """What one worker has been given, oldest first."""

    batches: deque[Batch] = field(default_factory=deque)
    busy_since: float = 0.0
    is_ready: bool = False


class Placement:
    """The designs on their way and where they are.

    Parameters
    ----------
    settings : PlacementSettings
        See there.
    """

    def __init__(self, settings: PlacementSettings) -> None:
        self._settings = settings
        self._waiting: list[int] = []
        self._suspects: list[int] = []
        self._losses: dict[int, int] = {}
        self._benches: dict[str, _Bench] = {}
        self._batches: dict[int, Batch] = {}
        self._serial = 0
        self._proven_hosts: set[str] = set()
        self._mean_seconds = math.nan

    @property
    def workers(self) -> tuple[str, ...]:
        """Names of the living workers."""
        return tuple(self._benches)

    @property
    def sent(self) -> Mapping[int, Batch]:
        """Batches on workers by serial number."""
        return self._batches

    @property
    def in_flight(self) -> int:
        """How many designs have been submitted and not settled."""
        on_workers = sum(len(batch.numbers) for batch in self._batches.values())
        return len(self._waiting) + len(self._suspects) + on_workers

    @property
    def appetite(self) -> int:
        """How many designs keep all workers busy."""
        return max(1, len(self._benches)) * 2 * self._batch_size()

    def submit(self, number: int) -> None:
        """Add a design to be evaluated."""
        heapq.heappush(self._waiting, number)

    def withdraw(self) -> tuple[int, ...]:
        """Take back and return every design that is not on a worker."""
        numbers = tuple(sorted(self._waiting + self._suspects))
        self._waiting.clear()
        self._suspects.clear()
        for number in numbers:
            self._losses.pop(number, None)
        return numbers

    def see_workers(self, names: Iterable[str], now: float) -> tuple[int, ...]:
        """Take note of the living workers; return the designs given up for lost workers."""
        living = set(names)
        given_up: list[int] = []
        for name in [n for n in self._benches if n not in living]:
            given_up += self.lose_worker(name)
        for name in sorted(living - set(self._benches)):
            self._benches[name] = _Bench(busy_since=now)
        return tuple(given_up)

    def place(self, now: float) -> tuple[Batch, ...]:
        """Return the batches to send now, oldest designs first, counted as sent."""
        placed = [
            self._put(name, (), now, is_alone=False)
            for name, bench in self._benches.items()
            if not bench.is_ready and not bench.batches
        ]
        idle = [name for name, bench in self._benches.items() if not bench.batches]
        while self._suspects and idle:
            number = heapq.heappop(self._suspects)
            placed.append(self._put(idle.pop(0), (number,), now, is_alone=True))
        size, depth = self._batch_size(), self._depth()
        for level in range(1, depth + 1):
            free = [name for name, bench in self._benches.items() if _has_room(bench, level)]
            for index, name in enumerate(free):
                if not self._waiting:
                    return tuple(placed)
                share = math.ceil(len(self._waiting) / (len(free) - index))
                count = min(size, share, len(self._waiting))
                numbers = tuple(heapq.heappop(self._waiting) for _ in range(count))
                placed.append(self._put(name, numbers, now, is_alone=False))
        return tuple(placed)

    def finish(self, serial: int, seconds: float, now: float) -> tuple[int, ...]:
        """Settle a batch whose results are here; return its designs, none if it is not awaited
        or held none.

        `seconds` is the time of all its evaluations [s].
        """
        batch = self._batches.get(serial)
        if batch is None:
            return ()
        self._remove(batch, now)
        self._benches[batch.worker].is_ready = True
        if not batch.numbers:
            return ()
        self._proven_hosts.add(_host(batch.worker))
        mean = seconds / len(batch.numbers)
        # The first value fades soon: it may hold compiling.
        weight = 1.0 if math.isnan(self._mean_seconds) else 0.2
        self._mean_seconds = mean if weight == 1.0 else self._blend(mean, weight)
        for number in batch.numbers:
            self._losses.pop(number, None)
        return batch.numbers

    def lose_worker(self, name: str) -> tuple[int, ...]:
        """Take note that a worker is gone; return the designs that are given up for it."""
        given_up = []
        for batch in self._clear(name):
            for number in batch.numbers:
                if batch.is_alone:
                    self._losses[number] = self._losses.get(number, 0) + 1
                if self._losses.get(number, 0) >= self._settings.max_losses:
                    del self._losses[number]
                    given_up.append(number)
                else:
                    heapq.heappush(self._suspects, number)
        return tuple(given_up)

    def overdue(self, now: float) -> tuple[Batch, ...]:
        """Return the batches that run longer than one evaluation may."""
        late = []
        for name, bench in self._benches.items():
            limit = self._settings.time_limit + self._settings.queue_grace
            if not bench.is_ready or _host(name) not in self._proven_hosts:
                limit += self._settings.start_grace
            if bench.batches and now - bench.busy_since > limit:
                late.append(bench.batches[0])
        return tuple(late)

    def expire(self, batch: Batch) -> tuple[int, ...]:
        """Give up an overdue batch with its worker, which the caller ends.

        Returns the design if it was the only one; several become suspects and are tried one by one.
        What merely waited behind the batch waits again.
        """
        expired: tuple[int, ...] = ()
        for other in self._clear(batch.worker):
            if other.serial != batch.serial:
                for number in other.numbers:
                    heapq.heappush(self._waiting, number)
            elif len(other.numbers) <= 1:
                expired = other.numbers
            else:
                for number in other.numbers:
                    heapq.heappush(self._suspects, number)
        for number in expired:
            self._losses.pop(number, None)
        return expired

    def forget_workers(self) -> None:
        """Take note that all workers are out of reach through no fault of the designs."""
        for name in list(self._benches):
            for batch in self._clear(name):
                target = self._suspects if batch.is_alone else self._waiting
                for number in batch.numbers:
                    heapq.heappush(target, number)

    def _put(self, name: str, numbers: tuple[int, ...], now: float, *, is_alone: bool) -> Batch:
        self._serial += 1
        batch = Batch(self._serial, name, numbers, is_alone)
        bench = self._benches[name]
        if not bench.batches:
            bench.busy_since = now
        bench.batches.append(batch)
        self._batches[batch.serial] = batch
        return batch

    def _remove(self, batch: Batch, now: float) -> None:
        del self._batches[batch.serial]
        bench = self._benches[batch.worker]
        bench.batches.remove(batch)
        bench.busy_since = now

    def _clear(self, name: str) -> tuple[Batch, ...]:
        bench = self._benches.pop(name, _Bench())
        for batch in bench.batches:
            del self._batches[batch.serial]
        return tuple(bench.batches)

    def _blend(self, mean: float, weight: float) -> float:
        return (1.0 - weight) * self._mean_seconds + weight * mean

    def _batch_size(self) -> int:
        if self._settings.batch > 0:
            return self._settings.batch
        if math.isnan(self._mean_seconds):
            return 1
        # With many workers the scheduler, not the round trip, sets the shortest useful batch.
        target = max(self._settings.batch_seconds, SCHEDULER_TIME * len(self._benches))
        return int(min(100.0, max(1.0, round(target / max(self._mean_seconds, 1e-6)))))

    def _depth(self) -> int:
        # A second batch hides the round trip but waits behind the first, however long that takes:
        # worth it for short batches only.
        if math.isnan(self._mean_seconds):
            return 1
        return 2 if self._batch_size() * self._mean_seconds < 20.0 * ROUND_TRIP else 1


def _host(worker: str) -> str:
    return worker.rpartition(":")[0]


def _has_room(bench: _Bench, level: int) -> bool:
    return (
        bench.is_ready
        and len(bench.batches) < level
        and not any(batch.is_alone for batch in bench.batches)
    )
