"""The optimiser: studies, search, runs, store, ranking, hand-over."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optim.service.running import run as run

__all__ = ["run"]


def __getattr__(name: str) -> Any:
    # Loading the whole job for `import optim.study` would cost seconds and turn the layers around.
    if name == "run":
        from optim.service.running import run

        return run
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
