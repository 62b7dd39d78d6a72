"""Evaluated designs of a run, as the routes need them."""

import asyncio

from models.geometry.build import complete
from models.machine import ParameterValue
from optim.service.designs import Assessment, Design, judged, known_evaluation
from optim.service.errors import SelectionError
from optim.service.http import heavy
from optim.service.http.context import Service, candidate_number
from optim.service.http.feed import RunFeed
from optim.study.families import family_of, own_parameters


def candidate_design(feed: RunFeed, candidate: str) -> Design:
    """Return an evaluated design of a run, on its front or not.

    Raises
    ------
    SelectionError
        If there is none of that number, or it is no machine.
    """
    number = candidate_number(feed, candidate)
    point = feed.point(number)
    run_id = feed.record.run_id
    if point is None:
        raise SelectionError(f"run {run_id} has no candidate {number}")
    if point.judgement.status != "ok":
        reason = point.entry.evaluation.reason
        raise SelectionError(f"candidate {number} of run {run_id} is no machine: {reason}")
    ranks = {c.number: c.rank for c in feed.front().candidates}
    family = family_of(feed.study, point.entry.parameters)
    return Design(
        label=f"{run_id}:{number}",
        family=family,
        model=feed.study.model,
        parameters=complete(own_parameters(point.entry.parameters), family=family),
        study=feed.study,
        run_id=run_id,
        number=number,
        rank=ranks.get(number),
    )


def design_order(feed: RunFeed, candidate: str, *, model: str = "") -> heavy.DesignOrder:
    """Return an evaluated design as plain data for another process."""
    return order_of(candidate_design(feed, candidate), feed, model=model)


def order_of(design: Design, feed: RunFeed, *, model: str = "") -> heavy.DesignOrder:
    """Return a design as plain data for another process, under the study of a run."""
    parameters: dict[str, ParameterValue] = dict(design.parameters)
    return heavy.DesignOrder(
        study_text=feed.record.study_text,
        label=design.label,
        family=design.family,
        model=model or design.model,
        parameters=parameters,
        run_id=design.run_id,
        number=design.number,
        rank=design.rank,
        seed=feed.study.search.seed,
    )


async def assessed(service: Service, design: Design, feed: RunFeed) -> Assessment:
    """Return a design under the study of a run; what is not stored is evaluated in the pool.

    A stored run's designs are known, unless the models or the duty have changed since.
    """
    found = await asyncio.to_thread(known_evaluation, design, feed.study, service.store)
    if found is None:
        order = order_of(design, feed)
        key = (order.study_text, order.run_id, order.number, order.model)
        found = await service.pool.call(heavy.evaluation, order, key=key)
    return await asyncio.to_thread(judged, design, found, feed.study)
