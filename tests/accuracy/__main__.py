"""`make accuracy`: compares the models on random feasible designs and writes docs/accuracy.md."""

import argparse
import os
import pickle
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from functools import partial
from multiprocessing import get_context
from pathlib import Path

# One thread, as in the workers; must be set before numerical libraries load.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

from models import PHYSICS_VERSION  # noqa: E402
from models.machine import ParameterValue  # noqa: E402
from optim.export.context import program_version  # noqa: E402
from optim.study.load import load  # noqa: E402
from optim.study.model import Study  # noqa: E402
from tests.accuracy.both import BothModels, both_or_reason  # noqa: E402
from tests.accuracy.designs import SEARCHED, STEP, feasible_designs  # noqa: E402
from tests.accuracy.differences import map_rows, metric_rows  # noqa: E402
from tests.accuracy.families import KINDS, compare_kind, families_section, with_section  # noqa: E402
from tests.accuracy.outside import Comparisons, record  # noqa: E402
from tests.accuracy.page import page  # noqa: E402

ROOT = Path(__file__).parents[2]
STUDIES = ROOT / "studies"
STUDY = STUDIES / "island-post-van.toml"


def main() -> None:
    """Compare and write the page."""
    parser = argparse.ArgumentParser(prog="make accuracy", description=__doc__)
    parser.add_argument("--designs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--page", type=Path, default=ROOT / "docs" / "accuracy.md")
    parser.add_argument("--keep", type=Path, help="pickle file to go on from after a break")
    parser.add_argument("--kinds", type=int, default=40, help="designs of each other kind")
    parser.add_argument("--only-kinds", action="store_true", help="renew their section alone")
    given = parser.parse_args()
    study = load(STUDY)
    if given.only_kinds:
        text = given.page.read_text(encoding="utf-8")
        section = _kinds(study, given.kinds, given.seed)
        given.page.write_text(with_section(text, section), encoding="utf-8")
        return
    found, failed = _compare(study, given.designs, given.seed, given.keep)
    outside = _outside()
    text = page(
        study=study.name,
        count=len(found),
        searched=SEARCHED,
        step=STEP,
        seed=given.seed,
        version=program_version(),
        physics=PHYSICS_VERSION,
        metric_rows=metric_rows(found),
        map_rows=map_rows(found),
        failed=failed,
        outside=outside,
    )
    text = with_section(text, _kinds(study, given.kinds, given.seed))
    given.page.write_text(text, encoding="utf-8")
    print(f"{len(found)} designs compared, {len(failed)} without a result; {given.page} written")


def _compare(
    study: Study, count: int, seed: int, keep: Path | None
) -> tuple[list[BothModels], list[str]]:
    designs: list[Mapping[str, ParameterValue]]
    found: list[BothModels] = []
    failed: list[str] = []
    if keep is not None and keep.exists():
        designs, found, failed = pickle.loads(keep.read_bytes())
    else:
        print("searching for feasible designs", flush=True)
        designs = [dict(d) for d in feasible_designs(study, count=count, seed=seed)]
    done = len(found) + len(failed)
    one = partial(both_or_reason, duty=study.duty, family=study.family)
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        for number, result in enumerate(pool.map(one, designs[done:]), done):
            if isinstance(result, str):
                failed.append(result)
            else:
                found.append(result)
            if number % 10 == 9 or number == len(designs) - 1:
                print(f"{number + 1} of {len(designs)} designs compared", flush=True)
                if keep is not None:
                    keep.write_bytes(pickle.dumps((designs, found, failed)))
    return found, failed


def _kinds(study: Study, count: int, seed: int) -> str:
    results = {}
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        for kind in KINDS:
            duty = load(STUDIES / f"{kind.study}.toml").duty if kind.study else study.duty
            results[kind.title] = compare_kind(kind, duty, pool, count=count, seed=seed)
            print(f"{kind.title}: {count} designs compared", flush=True)
    return families_section(
        results, study=study.name, seed=seed, version=program_version(), physics=PHYSICS_VERSION
    )


def _outside() -> list[Comparisons]:
    recorder = record(str(ROOT / "tests" / "published"))
    if recorder.failed:
        raise SystemExit(f"{recorder.failed} tests against the outside fail: no page is written")
    return [Comparisons(**asdict(t)) for t in recorder.tests.values()]


if __name__ == "__main__":
    main()
