"""What some tests need of the machine: they are skipped without it, unless it is required."""

import os
from typing import NoReturn

import pytest

VARIABLE = "PARETORQUE_TESTS_REQUIRE"
"""Names, apart by commas, of what must be there (`postgresql,chromium`): `.ci/run` sets it."""


def missing(what: str, how: str) -> NoReturn:
    """Skip the test for want of something; fail it where that is required.

    Parameters
    ----------
    what : str
        As in the variable.
    how : str
        What to do to get it.
    """
    text = f"{what} is not on this machine; to get it: {how}"
    if what in os.environ.get(VARIABLE, "").split(","):
        pytest.fail(f"{text} (required by {VARIABLE})")
    pytest.skip(text)
