"""A service in a process of its own on a database, with two jobs, and what must come of them."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import psutil

from optim.service.job_desk import JobDesk, Person
from optim.store.errors import StoreError
from optim.store.opening import open_database
from tests.commands import DEMO
from tests.fault.undisturbed import outcome, undisturbed

ROOT = Path(__file__).parents[2]
KIM = Person("kim")
REAL_DRIVER, TOY_DRIVER = "optim.service.job_driver", "tests.fault.toy_driver"
SEEDS = (1, 2)


class Service:
    """The process of a service, and what it says of its children."""

    def __init__(self, database, driver, log, workers, mean_seconds):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.fault.serve_jobs", database, str(workers), driver],
            cwd=ROOT, stdout=subprocess.PIPE, text=True, start_new_session=True,
            env={**os.environ, "PARETORQUE_TOY_LOG": str(log),
                 "PARETORQUE_TOY_SECONDS": str(mean_seconds)},
        )  # fmt: skip
        self.health = {"drivers": {}, "cluster": None, "has_workers": False}
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self):
        for line in self.process.stdout:
            self.health = json.loads(line)

    def kill_service(self):
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def kill_driver(self, run_id=None):
        drivers = self.health["drivers"]
        os.kill(drivers[run_id] if run_id else next(iter(drivers.values())), signal.SIGKILL)

    def kill_scheduler(self):
        os.kill(self.health["cluster"], signal.SIGKILL)

    def kill_worker(self):
        workers = [
            child for child in psutil.Process(self.health["cluster"]).children(recursive=True)
            if "spawn_main" in " ".join(child.cmdline())
        ]  # fmt: skip
        workers[0].kill()

    def stop(self):
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(90.0)
        self.process.stdout.close()

    def descendants(self):
        return psutil.Process(self.process.pid).children(recursive=True)


def _evaluation_seconds():
    """Return how long an evaluation is to take for a process to start within a hundred.

    On a busy machine one driver may be back many seconds before the other; its job must not come
    to its end meanwhile.
    """
    began = time.monotonic()
    subprocess.run([sys.executable, "-c", f"import {REAL_DRIVER}"], cwd=ROOT, check=True)
    return max(0.02, (time.monotonic() - began) / 100.0)


class Case:
    """A database with two jobs in it."""

    def __init__(self, database, folder, *, budget, driver=TOY_DRIVER, workers=1):
        self.database, self.driver, self.folder, self.budget = database, driver, folder, budget
        self.workers = workers
        self.log = folder / "log"
        self.log.mkdir()
        self.mean_seconds = _evaluation_seconds() if driver == TOY_DRIVER else 0.0
        self.store = open_database(database)
        self.desk = JobDesk(self.store)
        text = DEMO.read_text(encoding="utf-8")
        self.runs = [
            self.desk.submit(text, KIM, budget=budget, seed=seed).record.run_id for seed in SEEDS
        ]
        self.services = []

    def start(self):
        self.services.append(
            Service(self.database, self.driver, self.log, self.workers, self.mean_seconds)
        )
        return self.services[-1]

    def reopen(self):
        """Open the database anew, once it answers."""
        self.store.close()
        end = time.monotonic() + 60.0
        while True:
            try:
                store = open_database(self.database)
            except StoreError:
                if time.monotonic() > end:
                    raise
                time.sleep(0.2)
            else:
                self.store, self.desk = store, JobDesk(store)
                return

    def close(self):
        for service in self.services:
            service.stop()
        self.store.close()

    def state(self, run_id):
        return self.store.job(run_id).state

    def states(self):
        return [self.state(run_id) for run_id in self.runs]

    def counts(self):
        return [self.store.count(run_id) for run_id in self.runs]

    def wait_until(self, is_so, seconds=300.0):
        end = time.monotonic() + seconds
        while not is_so():
            if time.monotonic() > end:
                raise AssertionError(f"waited in vain; {self.counts()}\n{self.story()}")
            time.sleep(0.02)

    def wait_for_more(self, rows):
        """Wait until both jobs have so many rows more, or all."""
        goals = [min(self.budget, count + rows) for count in self.counts()]
        self.wait_until(lambda: all(n >= goal for n, goal in zip(self.counts(), goals)))

    def wait_for_the_end(self):
        self.wait_until(lambda: not {"queued", "running"} & set(self.states()))

    def story(self):
        return "\n".join(
            f"{run_id[-8:]} {line.moment:.1f} {line.level}: {line.text}"
            for run_id in self.runs
            for line in self.store.log_lines(run_id)
        )

    def evaluations_made(self):
        """Return how often each design was evaluated by a worker, over all runs."""
        counts = {}
        for file in self.log.iterdir():
            name = file.name.split(".")[0]
            counts[name] = counts.get(name, 0) + file.stat().st_size
        return counts

    def repeated_evaluations(self):
        """Return how many evaluations were of a design that had been evaluated before.

        A design that both runs came to is not counted: they may both have had it on its way.
        """
        keys = [{row.key for row in self.store.rows(run_id)} for run_id in self.runs]
        return sum(n - 1 for n in self.evaluations_made().values()) - len(keys[0] & keys[-1])

    def assert_as_undisturbed(self):
        """Compare every row and the front with those of runs that nothing disturbed."""
        assert set(self.states()) == {"done"}, self.story()
        for run_id in self.runs:
            record = self.store.run(run_id)
            (rows, front), (quiet_rows, quiet_front) = (
                outcome(self.store, record),
                undisturbed(record, is_toy=self.driver == TOY_DRIVER),
            )
            assert rows == quiet_rows
            assert front == quiet_front
            assert front


@contextmanager
def service_case(database, folder, **settings):
    case = Case(database, folder, **settings)
    try:
        yield case
    finally:
        case.close()
