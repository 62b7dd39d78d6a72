"""What benchmarks stand on: made-up results that go the way of real ones."""

from optim.study.judge import judge
from optim.study.load import load
from tests.benchmarks.driver_memory import stand_in
from tests.benchmarks.models import STUDY


def test_made_up_metrics_of_the_driver_benchmark_are_judged():
    study = load(STUDY)
    parameters = dict(study.baseline)
    judged = judge(study, stand_in(parameters), parameters)
    assert len(judged.objectives) == len(study.objectives)
