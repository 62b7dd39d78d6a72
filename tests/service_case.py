"""A service over a store with a small real run in it, for tests of the HTTP interface."""

import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import httpx
import numpy as np

from models.evaluate import evaluate
from models.evaluation import Evaluation
from models.nomenclature import METRICS
from optim.service.http.app import make_app, make_service
from optim.service.http.context import Service
from optim.service.http.server import Server
from optim.service.http.settings import Allowance, ServiceSettings
from optim.service.run_store import open_store, study_of
from optim.service.running import begin, with_search
from optim.store.contract import EvaluationRow, RunRecord
from optim.store.queue_contract import JobStore
from optim.study.identity import design_key
from optim.study.load import loads
from optim.study.model import Study
from optim.study.space import decode, encode, sample
from tests.commands import study_text

_OTHER_ROTORS = ("cage_mass", "sleeve_mass")
"""Parts of other rotors, whose prices need parameters that the demo study has not."""

UNHURRIED = Allowance(requests_per_second=0.0)
"""So that tests do not run into the limit of requests."""


def lenient_text() -> str:
    """Return the demo study with limits that its baseline keeps, so that there is a front."""
    return study_text(
        ('launch_torque = ">= 200 N*m"', 'launch_torque = ">= 150 N*m"'),
        ('torque_at_base_speed = ">= 195 N*m"', 'torque_at_base_speed = ">= 148 N*m"'),
    )


def lenient_study(budget: int = 60) -> Study:
    """Return that study with a small budget."""
    return with_search(loads(lenient_text()), budget=budget)


def rows_of(study: Study, count: int, *, first: int = 0) -> list[EvaluationRow]:
    """Return really evaluated designs: the baseline, then designs near it, then random ones."""
    generator = np.random.default_rng(5)
    baseline = encode(study, study.baseline)
    random = sample(study, generator, count=first + count)
    rows = []
    for number in range(first, first + count):
        # Near the baseline some are feasible, so that there is a front.
        share = 0.0 if number == 0 else 0.15 if number % 3 else 1.0
        vector = np.where(generator.random(baseline.size) < share, random[number], baseline)
        parameters = decode(study, vector)
        evaluation = evaluate(parameters, study.duty, family=study.family, model=study.model)
        key = design_key(study.family, parameters, duty=study.duty, model=study.model)
        rows.append(EvaluationRow(number, key, vector, parameters, evaluation, 0.02, "worker-1"))
    return rows


def made_up_rows(study: Study, count: int) -> list[EvaluationRow]:
    """Return designs with made-up metrics inside their plausible ranges: no model is asked."""
    generator = np.random.default_rng(5)
    low = {name: m.low / m.shown_factor for name, m in METRICS.items()}
    high = {name: m.high / m.shown_factor for name, m in METRICS.items()}
    rows = []
    for number, vector in enumerate(sample(study, generator, count=count)):
        # The first is a machine for certain, and on the front by its magnets.
        vector = encode(study, study.baseline) if number == 0 else vector
        parameters = decode(study, vector)
        key = design_key(study.family, parameters, duty=study.duty, model=study.model)
        # The better half of each range, so that every limit of the study is kept by some.
        shares = {n: generator.uniform(0.5, 0.9) if m.better == "more"
                  else generator.uniform(0.05, 0.3) for n, m in METRICS.items()}  # fmt: skip
        metrics = {
            n: low[n] + shares[n] * (high[n] - low[n])
            for n in METRICS
            if n not in ("cost", *_OTHER_ROTORS)
        }
        metrics["cycle_missed_energy"] = 0.0
        if number == 0:
            metrics["magnet_mass"] = low["magnet_mass"]
        evaluation = Evaluation("ok", study.model, metrics=metrics)
        rows.append(EvaluationRow(number, key, vector, parameters, evaluation, 0.02, "worker-1"))
    return rows


def add_run(
    store: JobStore, owner: str, rows: Sequence[EvaluationRow], *, state: str = "done"
) -> RunRecord:
    """Add a run of the demo study with rows, as a job of an owner."""
    study = lenient_study()
    record = begin(store, study)
    job = store.add_job(record.run_id, owner=owner)
    store.append(record.run_id, rows)
    store.change_state(record.run_id, "queued", "running")
    if state != "queued":
        job = store.change_job(job, replace(job, state="running"))
        if state != "running":
            store.change_job(job, replace(job, state=state))
            store.change_state(record.run_id, "running", state)
    return store.run(record.run_id)


@contextmanager
def served(
    folder: Path, *, allowance: Allowance = UNHURRIED, host: str = "127.0.0.1"
) -> Iterator[tuple[Service, str]]:
    """Serve a store in a folder from a thread; yield the parts and the URL."""
    settings = ServiceSettings(
        host=host, port=0, database=str(folder / "runs.sqlite"), tokens=folder / "tokens.json",
        allowance=allowance,
    )  # fmt: skip
    with open_store(settings.database, is_new_allowed=True) as store:
        service = make_service(store, settings)
        server = Server(make_app(service), settings)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        end = time.monotonic() + 30.0
        while not server.url and thread.is_alive() and time.monotonic() < end:
            time.sleep(0.01)
        assert server.url, "the server did not start"
        try:
            yield service, server.url
        finally:
            server.should_exit = True
            thread.join(timeout=30.0)
            assert not thread.is_alive()


def client_of(url: str, token: str = "") -> httpx.Client:
    """Return a client with a token."""
    headers = {"authorization": f"Bearer {token}"} if token else {}
    return httpx.Client(base_url=url, headers=headers, timeout=60.0)


def study_of_run(service: Service, run_id: str) -> Study:
    """Return the study of a run."""
    return study_of(service.store.run(run_id))
