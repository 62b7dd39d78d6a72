"""What watching costs: 200 watchers of one run, how late events are, how far the run slows down.

A driver process spends the processor time of an evaluation and commits a row with every metric
(made up, so that nothing has to be compiled), without and with watchers in turns; every watcher is
a connection of its own, all in another process. Run by `python -m tests.benchmarks.watchers`; not
a test.
"""

import asyncio
import json
import multiprocessing
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from statistics import median

import numpy as np

from optim.service.run_store import open_store, study_of
from optim.service.running import begin
from tests.service_case import lenient_study, made_up_rows, served

WATCHERS = 200
ROUNDS = 3
SECONDS = 15.0
EVALUATION_SECONDS = 0.016
"""Processor time of a circuit evaluation once compiled, as the benchmark of the models has it."""


def drive(database: str, run_id: str, seconds: float, out: str) -> None:
    """Evaluate and commit for some seconds, one process with one worker's work; note the times."""
    with open_store(database) as store:
        study = study_of(store.run(run_id))
        pattern = made_up_rows(study, 1)[0]
        first = number = store.count(run_id)
        commits: dict[int, float] = {}
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            _compute()
            store.append(run_id, [replace(pattern, number=number, key=f"{number}")])
            commits[number] = time.time()
            number += 1
    Path(out).write_text(json.dumps({"rows": number - first, "commits": commits}), "utf-8")


def _compute() -> None:
    """Use as much processor time as an evaluation of the circuit model."""
    end = time.process_time() + EVALUATION_SECONDS
    matrix = np.full((60, 60), 0.5)
    while time.process_time() < end:
        matrix = np.tanh(matrix @ matrix)


def watch(host: str, port: int, run_id: str, after: int, seconds: float, out: str) -> None:
    """Open all streams from one process; note when each point came to each watcher."""
    arrivals: list[tuple[int, float]] = []
    broken = asyncio.run(_watch_all(host, port, run_id, after, seconds, arrivals))
    Path(out).write_text(json.dumps({"arrivals": arrivals, "broken": broken}), "utf-8")


async def _watch_all(
    host: str, port: int, run_id: str, after: int, seconds: float,
    arrivals: list[tuple[int, float]],
) -> int:  # fmt: skip
    tasks = [
        asyncio.create_task(_watch_one(host, port, run_id, after, seconds, arrivals))
        for _ in range(WATCHERS)
    ]
    found = await asyncio.gather(*tasks, return_exceptions=True)
    return sum(isinstance(one, BaseException) for one in found)


async def _watch_one(
    host: str, port: int, run_id: str, after: int, seconds: float,
    arrivals: list[tuple[int, float]],
) -> None:  # fmt: skip
    # The bare protocol: a client library of 200 streams would be the larger part of the load.
    reader, writer = await asyncio.open_connection(host, port)
    writer.write(
        f"GET /api/v1/runs/{run_id}/events?after={after} HTTP/1.1\r\n"
        f"Host: {host}:{port}\r\n\r\n".encode()
    )
    await writer.drain()
    end = time.monotonic() + seconds
    while (left := end - time.monotonic()) > 0.0:
        try:
            line = await asyncio.wait_for(reader.readline(), left)
        except TimeoutError:
            break
        if not line:
            raise ConnectionError("the stream ended early")
        if line.startswith(b"id: "):
            arrivals.append((int(line[4:]), time.time()))
    writer.close()


def measure(folder: Path) -> tuple[list[float], list[float], list[float], int]:
    """Return rates without and with watchers [1/s], delays [s], and streams that broke."""
    alone, watched, delays, broken = [], [], [], 0
    context = multiprocessing.get_context("spawn")
    with served(folder) as (service, url):
        host, _, port = url.removeprefix("http://").partition(":")
        record = begin(service.store, lenient_study(budget=5000))
        job = service.store.add_job(record.run_id, owner="local")
        service.store.change_job(job, replace(job, state="running"))
        service.store.change_state(record.run_id, "queued", "running")
        database, run_id = service.settings.database, record.run_id
        # Once to load compiled code, then in turns, so that what else the machine does hits both.
        for turn in range(1 + 2 * ROUNDS):
            is_watched = turn % 2 == 0 and turn > 0
            after = service.store.count(run_id)
            driven, seen = folder / f"driven-{turn}.json", folder / f"seen-{turn}.json"
            watching = context.Process(
                target=watch, args=(host, int(port), run_id, after, SECONDS + 15.0, str(seen))
            )
            if is_watched:
                watching.start()
                while service.hub.watchers < WATCHERS:
                    time.sleep(0.1)
            driving = context.Process(target=drive, args=(database, run_id, SECONDS, str(driven)))
            driving.start()
            driving.join()
            told = json.loads(driven.read_text("utf-8"))
            if is_watched:
                watching.join()
                heard = json.loads(seen.read_text("utf-8"))
                broken += heard["broken"]
                delays += _delays(told["commits"], heard["arrivals"])
            if turn > 0:
                (watched if is_watched else alone).append(told["rows"] / SECONDS)
    return alone, watched, delays, broken


def _delays(commits: dict[str, float], arrivals: list[tuple[int, float]]) -> list[float]:
    """Return for each event at each watcher the time since the commit of its newest point."""
    by_sequence = {int(number) + 1: moment for number, moment in commits.items()}
    return [moment - by_sequence[n] for n, moment in arrivals if n in by_sequence]


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        alone, watched, delays, broken = measure(Path(folder))
    loss = 1.0 - median(watched) / median(alone)
    p50, p95, most = np.percentile(delays, [50, 95, 100])
    print(f"{WATCHERS} watchers of one run, {ROUNDS} rounds of {SECONDS:g} s in turns")
    print(f"evaluations a second alone {[round(r, 1) for r in alone]}, "
          f"watched {[round(r, 1) for r in watched]}: loss {100.0 * loss:.1f} %")  # fmt: skip
    print(f"events {len(delays)}, after the commit: median {1e3 * p50:.0f} ms, "
          f"95 % below {1e3 * p95:.0f} ms, latest {1e3 * most:.0f} ms; "
          f"broken streams {broken}")  # fmt: skip


if __name__ == "__main__":
    main()
