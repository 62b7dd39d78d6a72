"""What becomes of a run that nothing disturbs: in one process, one design after the other."""

from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from optim.jobs.dispatcher import SerialDispatcher
from optim.jobs.driver import drive
from optim.jobs.plan import Plan
from optim.search.factory import make_searcher
from optim.service.results import read_front
from optim.service.run_store import study_of
from optim.service.running import design_functions, evaluator, starting_vectors
from optim.store.sqlite import SqliteStore
from tests.fault import toy_driver
from tests.fault.toy_search import contents

Outcome = tuple[list[tuple], list[tuple]]
_KNOWN: dict[tuple, Outcome] = {}


def undisturbed(record, *, is_toy):
    """Return rows and front of a run's study, found once however many tests ask."""
    key = (is_toy, record.study_text, repr(sorted(record.settings.items())))
    if key not in _KNOWN:
        _KNOWN[key] = _found(record, is_toy)
    return _KNOWN[key]


def outcome(store, record):
    """Return the rows of a run and its front.

    Whether a design was evaluated for this run or taken from another one depends on which of the
    two came to it first; nothing else may.
    """
    found = read_front(store, record, study_of(record))
    front = [(c.number, c.rank, c.score, dict(c.metrics)) for c in found.candidates]
    return [content[:-1] for content in contents(store, record.run_id)], front


def _found(record, is_toy):
    study = study_of(record)
    with TemporaryDirectory() as folder, SqliteStore(Path(folder) / "quiet.sqlite") as quiet:
        quiet.create_run(
            record.study_name, record.study_text, run_id=record.run_id, settings=record.settings
        )
        evaluate = evaluator(study)
        if is_toy:
            evaluate = partial(_without_sleep, toy_driver.evaluator(study, log=folder))
        searcher = make_searcher(
            study.variables, len(study.objectives), n_limits=len(study.limits),
            settings=study.search, seeds=starting_vectors(quiet, record, study),
        )  # fmt: skip
        end = drive(
            record.run_id, searcher, SerialDispatcher(evaluate), quiet,
            functions=design_functions(study), plan=Plan.of(study.search),
        )  # fmt: skip
        assert end.state == "done"
        return outcome(quiet, record)


def _without_sleep(evaluate, parameters):
    former, toy_driver.MEAN_SECONDS = toy_driver.MEAN_SECONDS, 0.0
    try:
        return evaluate(parameters)
    finally:
        toy_driver.MEAN_SECONDS = former
