"""A job as documents: one entry of a list, and its status in full."""

from typing import Any

from optim.service.documents import Document, document, progress_entries
from optim.service.http.feed import RunFeed
from optim.service.job_desk import JobView


def run_entries(view: JobView, evaluations: int) -> dict[str, Any]:
    """Return one entry of a list of runs."""
    record, job = view.record, view.job
    return {
        "run": record.run_id,
        "study": record.study_name,
        "state": job.state,
        "reason": job.reason or record.reason,
        "evaluations": evaluations,
        "budget": record.settings.get("budget"),
        "parent": record.parent,
        "created_unix_s": record.created,
        "driven_s": record.elapsed,
        "owner": job.owner,
        "priority": job.priority,
        "position": view.position,
    }


def status_document(view: JobView, feed: RunFeed, **more: Any) -> Document:
    """Return the status of a run, with what may be done with it now."""
    return document(
        "run_status",
        **run_entries(view, feed.total),
        progress=progress_entries(feed.progress()),
        allowed=[*view.allowed, "rerun"],
        **more,
    )
