"""Fixtures of several folders of tests."""

import pytest

from tests.postgres import running_server


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
