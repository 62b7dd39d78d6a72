"""Errors of the search."""

from optim.errors import OptimError


class SearchError(OptimError, ValueError):
    """A search was set up or called in a way it does not allow."""
