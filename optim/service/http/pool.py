"""Processes for what takes long, so that the event loop and other requests never wait for it."""

import asyncio
import multiprocessing
import os
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from typing import Any

from optim.service.http.problems import ApiError

LONGEST_SECONDS = 300.0
"""A piece of work that takes longer is given up [s]; models may have to be compiled first."""
MOST_WAITING = 32
"""Pieces of work that may wait or run; more are refused."""
KEPT = 64
"""Finished pieces that are kept."""


class HeavyPool:
    """Runs plain functions in other processes and keeps their last results.

    Parameters
    ----------
    processes : int
        How many at a time.
    """

    def __init__(self, processes: int) -> None:
        self._processes = processes
        self._executor: ProcessPoolExecutor | None = None
        self._kept: OrderedDict[Hashable, asyncio.Task[Any]] = OrderedDict()
        self._waiting = 0

    async def call(
        self, function: Callable[..., Any], *arguments: Any, key: Hashable, is_kept: bool = True
    ) -> Any:
        """Return the function's result; the same work is done once, also when asked twice at once.

        Parameters
        ----------
        function : callable
            Of a module, so that other processes can load it.
        *arguments
            What can be pickled.
        key : hashable
            Equal keys mean equal results.
        is_kept : bool
            Whether the result is kept for later callers, too.

        Raises
        ------
        ApiError
            503 when too much waits, the process died, or it took too long.
        """
        task = self._kept.get((function.__name__, key))
        if task is None:
            if self._waiting >= MOST_WAITING:
                raise ApiError(
                    503, "too much is being computed here; try again", headers={"retry-after": "5"}
                )
            task = asyncio.create_task(self._run(partial(function, *arguments)))
            self._kept[function.__name__, key] = task
            task.add_done_callback(partial(self._done, (function.__name__, key), is_kept))
        # A watcher who goes away must not take the work from others who wait for it.
        return await asyncio.shield(task)

    async def close(self) -> None:
        """End the processes."""
        for task in list(self._kept.values()):
            task.cancel()
        self._kept.clear()
        self._replace()

    async def _run(self, work: Callable[[], Any]) -> Any:
        self._waiting += 1
        try:
            future = asyncio.get_running_loop().run_in_executor(self._started(), work)
            return await asyncio.wait_for(future, LONGEST_SECONDS)
        except BrokenProcessPool:
            self._replace()
            raise ApiError(503, "the process that computed this died; try again") from None
        except TimeoutError:
            # A process cannot be told to stop in the middle of a solution: it is ended.
            self._replace()
            raise ApiError(503, f"this took longer than {LONGEST_SECONDS:g} s") from None
        finally:
            self._waiting -= 1

    def _done(self, key: Hashable, is_kept: bool, task: asyncio.Task[Any]) -> None:
        if task.cancelled() or task.exception() is not None or not is_kept:
            self._kept.pop(key, None)
            return
        if key in self._kept:
            self._kept.move_to_end(key)
        while len(self._kept) > KEPT:
            self._kept.popitem(last=False)

    def _started(self) -> ProcessPoolExecutor:
        if self._executor is None:
            # Not forked: this process has threads, whose locks a copy would find shut for ever.
            context = multiprocessing.get_context("spawn")
            self._executor = ProcessPoolExecutor(
                self._processes, mp_context=context, initializer=_begin
            )
        return self._executor

    def _replace(self) -> None:
        executor, self._executor = self._executor, None
        if executor is not None:
            processes = list((executor._processes or {}).values())
            executor.shutdown(wait=False, cancel_futures=True)
            for process in processes:
                process.terminate()


def _begin() -> None:
    """Prepare a process of the pool: everything loaded, behind the evaluations, not orphaned."""
    os.nice(5)
    threading.Thread(target=_end_with_service, daemon=True).start()
    import optim.service.http.heavy  # noqa: F401  (loading is the point)


def _end_with_service() -> None:
    """End this process when the service is gone, however it went."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(0)
