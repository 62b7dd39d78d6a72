"""Fixtures of several folders of tests, and where property tests take their examples from."""

import pytest
from hypothesis import settings

from tests.postgres import running_server

# The suite asks the same questions on every run, so that it fails for a change and for nothing
# else; `make hunt` asks new ones.
settings.register_profile("repeatable", derandomize=True, print_blob=True)
settings.register_profile("hunt", derandomize=False, print_blob=True)
settings.load_profile("repeatable")


@pytest.fixture(scope="session")
def postgres_server():
    """A PostgreSQL server for this session; its tests are skipped where there is none."""
    with running_server() as server:
        yield server


@pytest.fixture(params=["sqlite", "postgres"])
def store_address(request, tmp_path):
    """Where an empty store may be made, once for each kind of database."""
    if request.param == "sqlite":
        return str(tmp_path / "paretorque.sqlite")
    return request.getfixturevalue("postgres_server").new_database()
