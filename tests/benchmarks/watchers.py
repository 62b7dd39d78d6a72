"""What watching costs: 200 watchers of one run, how late points are, how far the run slows down.

As many processes as there are cores spend the processor time of evaluations and commit rows with
every metric (made up, so that nothing has to be compiled), without and with watchers in turns. The
watchers are 200 connections of one process that only reads. All of it shares the machine, so the
fall in throughput holds the watchers' own work too, which in earnest is done elsewhere: the
processor time of the service by itself is stated beside it. Run by
`python -m tests.benchmarks.watchers`; not a test.
"""

import json
import multiprocessing
import os
import selectors
import socket
import tempfile
import time
from dataclasses import dataclass, field, replace
from multiprocessing.synchronize import Event
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
CORES = len(os.sched_getaffinity(0))


@dataclass
class Found:
    """What was measured: evaluations a second, processor shares of a core, delays [s]."""

    alone: list[float] = field(default_factory=list)
    watched: list[float] = field(default_factory=list)
    idle_service: list[float] = field(default_factory=list)
    service: list[float] = field(default_factory=list)
    clients: list[float] = field(default_factory=list)
    writes: int = 0
    delays: list[float] = field(default_factory=list)
    broken: int = 0


def drive(database: str, run_id: str, first: int, seconds: float, out: str) -> None:
    """Evaluate and commit for some seconds as one worker of several; note the times."""
    with open_store(database) as store:
        study = study_of(store.run(run_id))
        pattern = made_up_rows(study, 1)[0]
        number = first
        commits: dict[int, float] = {}
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            _compute()
            store.append(run_id, [replace(pattern, number=number, key=f"{number}")])
            commits[number] = time.time()
            number += CORES
    Path(out).write_text(json.dumps(commits), "utf-8")


def _compute() -> None:
    """Use as much processor time as an evaluation of the circuit model."""
    end = time.process_time() + EVALUATION_SECONDS
    matrix = np.full((60, 60), 0.5)
    while time.process_time() < end:
        matrix = np.tanh(matrix @ matrix)


def watch(host: str, port: int, run_id: str, after: int, is_over: Event, out: str) -> None:
    """Read all streams with one selector: a client library would be the larger part of the load."""
    selector = selectors.DefaultSelector()
    ask = (
        f"GET /api/v1/runs/{run_id}/events?after={after} HTTP/1.1\r\nHost: {host}:{port}\r\n\r\n"
    ).encode()
    for watcher in range(WATCHERS):
        line = socket.create_connection((host, port))
        line.sendall(ask)
        selector.register(line, selectors.EVENT_READ, watcher)
    arrivals: list[tuple[int, int, float]] = []
    broken = 0
    began = time.process_time()  # without what the process needed to start
    while not is_over.is_set():
        for key, _ in selector.select(0.5):
            content = key.fileobj.recv(1 << 18)  # type: ignore[union-attr]
            if not content:
                selector.unregister(key.fileobj)
                broken += 1
            elif (place := content.rfind(b"\nid: ")) >= 0:
                number = content[place + 5 : content.index(b"\n", place + 5)]
                arrivals.append((key.data, int(number), time.time()))
    used = time.process_time() - began
    seen = {"arrivals": arrivals, "broken": broken, "processor_s": used}
    Path(out).write_text(json.dumps(seen), "utf-8")


def measure(folder: Path) -> Found:
    """Measure in turns, so that what else the machine does hits both alike."""
    found = Found()
    context = multiprocessing.get_context("spawn")
    with served(folder) as (service, url):
        host, _, port = url.removeprefix("http://").partition(":")
        record = begin(service.store, lenient_study(budget=5000))
        job = service.store.add_job(record.run_id, owner="local")
        service.store.change_job(job, replace(job, state="running"))
        service.store.change_state(record.run_id, "queued", "running")
        database, run_id = service.settings.database, record.run_id
        for turn in range(1 + 2 * ROUNDS):  # the first only to load compiled code
            is_watched = turn % 2 == 0 and turn > 0
            after = service.store.count(run_id)
            seen, is_over = folder / f"seen-{turn}.json", context.Event()
            watching = context.Process(
                target=watch, args=(host, int(port), run_id, after, is_over, str(seen))
            )
            if is_watched:
                watching.start()
                while service.hub.watchers < WATCHERS:
                    time.sleep(0.1)
                time.sleep(1.0)
            files = [folder / f"driven-{turn}-{worker}.json" for worker in range(CORES)]
            workers = [
                context.Process(
                    target=drive,
                    args=(database, run_id, 100_000 * turn + worker, SECONDS, str(file)),
                )
                for worker, file in enumerate(files)
            ]
            for worker in workers:
                worker.start()
            began = time.process_time()
            for worker in workers:
                worker.join()
            used = (time.process_time() - began) / SECONDS
            commits = {n: t for file in files for n, t in json.loads(file.read_text()).items()}
            if turn == 0:
                continue
            (found.watched if is_watched else found.alone).append(len(commits) / SECONDS)
            (found.service if is_watched else found.idle_service).append(used)
            if is_watched:
                time.sleep(1.5)  # the last points are on their way
                is_over.set()
                watching.join()
                heard = json.loads(seen.read_text("utf-8"))
                found.broken += heard["broken"]
                found.writes += len(heard["arrivals"])
                found.clients.append(heard["processor_s"] / SECONDS)
                rows = service.store.rows_after(run_id, after)
                when = [(row.sequence, commits[str(row.number)]) for row in rows]
                found.delays += _delays(when, heard["arrivals"])
    return found


def _delays(
    commits: list[tuple[int, float]], arrivals: list[tuple[int, int, float]]
) -> list[float]:
    """Return for each point at each watcher the time since its commit."""
    told = dict.fromkeys(range(WATCHERS), 0)
    delays = []
    for watcher, newest, moment in arrivals:
        while told[watcher] < len(commits) and commits[told[watcher]][0] <= newest:
            delays.append(moment - commits[told[watcher]][1])
            told[watcher] += 1
    return delays


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        found = measure(Path(folder))
    loss = 1.0 - median(found.watched) / median(found.alone)
    own = median(found.service) - median(found.idle_service)
    p50, p95, most = np.percentile(found.delays, [50, 95, 100])
    print(f"{WATCHERS} watchers of one run, {CORES} workers on {CORES} cores, "
          f"{ROUNDS} rounds of {SECONDS:g} s in turns")  # fmt: skip
    print(f"evaluations a second alone {[round(r, 1) for r in found.alone]}, watched "
          f"{[round(r, 1) for r in found.watched]}: loss in all {100.0 * loss:.1f} %")  # fmt: skip
    print(f"processor time for watching: service {100.0 * own:.1f} % of a core, "
          f"{100.0 * own / CORES:.1f} % of all cores; clients "
          f"{100.0 * median(found.clients):.1f} % of a core")  # fmt: skip
    print(f"points {len(found.delays)} in {found.writes} reads, after the commit: median "
          f"{1e3 * p50:.0f} ms, 95 % below {1e3 * p95:.0f} ms, latest {1e3 * most:.0f} ms; "
          f"broken streams {found.broken}")  # fmt: skip


if __name__ == "__main__":
    main()
