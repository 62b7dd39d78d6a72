"""Evaluated designs of a run, as the routes need them."""

from models.geometry.build import complete
from models.machine import ParameterValue
from optim.service.designs import Design
from optim.service.errors import SelectionError
from optim.service.http.context import candidate_number
from optim.service.http.feed import RunFeed
from optim.service.http.heavy import DesignOrder
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


def design_order(feed: RunFeed, candidate: str, *, model: str = "") -> DesignOrder:
    """Return an evaluated design as plain data for another process."""
    design = candidate_design(feed, candidate)
    parameters: dict[str, ParameterValue] = dict(design.parameters)
    return DesignOrder(
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
