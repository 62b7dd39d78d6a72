"""The tables of a store, in the words that SQLite and PostgreSQL share, and their versions."""

from collections.abc import Mapping
from dataclasses import dataclass

SCHEMA_VERSION = 2


@dataclass(frozen=True)
class Dialect:
    """What differs between databases in a statement.

    Attributes
    ----------
    words : mapping of str to str
        Stands in for `{name}` in the statements below.
    order_of_insertion : str
        Column that rises with each run added.
    lock_row : str
        End of a query whose rows nobody else may change until the transaction ends.
    """

    words: Mapping[str, str]
    order_of_insertion: str
    lock_row: str


SQLITE = Dialect(
    words={
        # AUTOINCREMENT: a reader that follows the commits must never see a number a second time.
        "serial": "INTEGER PRIMARY KEY AUTOINCREMENT",
        "integer": "INTEGER",
        "real": "REAL",
        "bytes": "BLOB",
        "insertion": "",
    },
    order_of_insertion="rowid",
    lock_row="",  # a writing transaction has the whole file to itself
)
POSTGRES = Dialect(
    words={
        "serial": "BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY",
        "integer": "BIGINT",
        "real": "DOUBLE PRECISION",
        "bytes": "BYTEA",
        "insertion": "insertion BIGINT GENERATED ALWAYS AS IDENTITY,",
    },
    order_of_insertion="insertion",
    lock_row=" FOR UPDATE",
)

_RUNS = (
    """CREATE TABLE runs (
        run_id TEXT PRIMARY KEY,
        {insertion}
        study_name TEXT NOT NULL,
        study_text TEXT NOT NULL,
        state TEXT NOT NULL,
        reason TEXT NOT NULL DEFAULT '',
        created {real} NOT NULL,
        heartbeat {real} NOT NULL DEFAULT 0,
        elapsed {real} NOT NULL DEFAULT 0,
        stop_request TEXT NOT NULL DEFAULT '',
        parent TEXT NOT NULL DEFAULT '',
        settings TEXT NOT NULL,
        notes TEXT NOT NULL DEFAULT '{{}}'
    )""",
    """CREATE TABLE evaluations (
        sequence {serial},
        run_id TEXT NOT NULL REFERENCES runs (run_id),
        number {integer} NOT NULL,
        key TEXT NOT NULL,
        vector {bytes} NOT NULL,
        parameters TEXT NOT NULL,
        status TEXT NOT NULL CHECK (status IN ('ok', 'infeasible', 'failed')),
        model TEXT NOT NULL,
        reason TEXT NOT NULL,
        message TEXT NOT NULL,
        metrics TEXT NOT NULL,
        seconds {real} NOT NULL,
        worker TEXT NOT NULL,
        origin TEXT NOT NULL CHECK (origin IN ('evaluated', 'repeated', 'reused')),
        UNIQUE (run_id, number)
    )""",
    "CREATE INDEX evaluations_by_key ON evaluations (key)",
    "CREATE INDEX evaluations_by_commit ON evaluations (run_id, sequence)",
    """CREATE TABLE asks (
        run_id TEXT NOT NULL REFERENCES runs (run_id),
        number {integer} NOT NULL,
        told {integer} NOT NULL,
        PRIMARY KEY (run_id, number)
    )""",
)
_JOBS = (
    """CREATE TABLE jobs (
        run_id TEXT PRIMARY KEY REFERENCES runs (run_id),
        owner TEXT NOT NULL,
        priority {integer} NOT NULL,
        state TEXT NOT NULL,
        wish TEXT NOT NULL DEFAULT '',
        reason TEXT NOT NULL DEFAULT '',
        submitted {real} NOT NULL,
        started {real} NOT NULL DEFAULT 0,
        ended {real} NOT NULL DEFAULT 0,
        crashes {integer} NOT NULL DEFAULT 0,
        rows_at_start {integer} NOT NULL DEFAULT 0,
        not_before {real} NOT NULL DEFAULT 0,
        progress TEXT NOT NULL DEFAULT '',
        version {integer} NOT NULL DEFAULT 1
    )""",
    """CREATE TABLE job_log (
        sequence {serial},
        run_id TEXT NOT NULL REFERENCES jobs (run_id),
        moment {real} NOT NULL,
        level TEXT NOT NULL,
        text TEXT NOT NULL
    )""",
    "CREATE INDEX job_log_by_run ON job_log (run_id, sequence)",
)


def all_tables(dialect: Dialect) -> tuple[str, ...]:
    """Return the statements that make an empty store of the newest version."""
    return tuple(statement.format_map(dialect.words) for statement in (*_RUNS, *_JOBS))


def step_from(version: int, dialect: Dialect) -> tuple[str, ...]:
    """Return the statements from a version to the next, none if there is no such step."""
    return tuple(s.format_map(dialect.words) for s in {1: _JOBS}.get(version, ()))
