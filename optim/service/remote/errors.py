"""Errors of talking to a service."""

from optim.service.errors import RequestError, ServiceError


class UnreachableError(ServiceError, OSError):
    """The service does not answer, or not as one; what it keeps is not touched by that."""


class AccessError(RequestError):
    """The service does not let this token do that."""
