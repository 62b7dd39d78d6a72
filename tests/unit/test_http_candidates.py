"""Designs that an old store does not know any more are evaluated in the pool, not by the server."""

from pathlib import Path
from typing import Any

import pytest

from optim.service.http import candidates, heavy
from tests.service_case import add_run, client_of, lenient_study, made_up_rows, served


@pytest.mark.parametrize("is_known", [True, False])
def test_what_is_not_stored_is_evaluated_in_the_pool(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, is_known: bool
) -> None:
    rows = made_up_rows(lenient_study(), 2)
    asked: list[str] = []

    async def call(function: Any, order: heavy.DesignOrder, *, key: Any) -> Any:
        asked.append(f"{function.__name__} {order.number}")
        return rows[order.number or 0].evaluation

    with served(tmp_path) as (service, url):
        run_id = add_run(service.store, "local", rows).run_id
        monkeypatch.setattr(service.pool, "call", call)
        if not is_known:
            monkeypatch.setattr(candidates, "known_evaluation", lambda *_: None)
        with client_of(url) as client:
            one = client.get(f"/api/v1/runs/{run_id}/candidates/1").json()
            pair = client.get(
                "/api/v1/compare", params={"first": f"{run_id}:0", "second": f"{run_id}:1"}
            ).json()
    torque = rows[1].evaluation.metrics["peak_torque"]
    assert one["metrics"]["peak_torque_nm"] == pair["second"]["metrics"]["peak_torque_nm"] == torque
    assert asked == ([] if is_known else ["evaluation 1", "evaluation 0", "evaluation 1"])
