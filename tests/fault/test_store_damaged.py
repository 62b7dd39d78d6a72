"""Locked, read-only, full, torn and foreign stores: a clear error, nothing committed lost."""

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from models.evaluation import Evaluation
from optim.jobs.dispatcher import SerialDispatcher
from optim.jobs.driver import drive
from optim.jobs.plan import Plan
from optim.store.contract import EvaluationRow
from optim.store.errors import StoreBusyError, StoreDamagedError, StoreError, StoreFullError
from optim.store.sqlite import SqliteStore
from optim.store.sqlite_file import SCHEMA_VERSION, open_file
from tests.fault.toy_search import FUNCTIONS, ToySearcher, contents, evaluate

ROOT = Path(__file__).parents[2]
PLAN = Plan(budget=120, lag=10)


def row(number):
    return EvaluationRow(
        number, f"k{number}", np.arange(3.0), {"a": 1.0}, Evaluation("ok", "circuit", {"b": 2.0})
    )


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "runs" / "paretorque.sqlite"
    with SqliteStore(path) as store:
        store.create_run("toy", "", run_id="r")
        store.append("r", [row(n) for n in range(50)])
    return path


def test_a_locked_store_is_waited_for_and_then_named(path):
    other = sqlite3.connect(path, isolation_level=None)
    with SqliteStore(path, busy_seconds=0.2) as store:
        other.execute("BEGIN IMMEDIATE")
        assert store.count("r") == 50  # reading goes on
        with pytest.raises(StoreBusyError, match=r"paretorque\.sqlite: locked .* resume"):
            store.append("r", [row(50)])
        other.execute("ROLLBACK")
        store.append("r", [row(50)])
        assert store.count("r") == 51
    other.close()


@pytest.mark.parametrize("content", [b"not a database, but long enough to be one" * 50, b"x"])
def test_a_file_of_another_kind_is_left_alone(tmp_path, content):
    path = tmp_path / "paretorque.sqlite"
    path.write_bytes(content)
    with pytest.raises(StoreDamagedError, match=r"not a store .* name another file"):
        SqliteStore(path)
    assert path.read_bytes() == content


def test_a_database_of_another_program_is_left_alone(tmp_path):
    path = tmp_path / "paretorque.sqlite"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE theirs (x)")
    other.close()
    before = path.read_bytes()
    with pytest.raises(StoreDamagedError, match="another program"):
        SqliteStore(path)
    assert path.read_bytes() == before


def test_a_folder_is_named(tmp_path):
    with pytest.raises(StoreDamagedError, match="a folder"):
        SqliteStore(tmp_path)


def test_a_newer_store_is_left_alone(path):
    other = sqlite3.connect(path)
    other.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    other.close()
    with pytest.raises(StoreDamagedError, match="newer"):
        SqliteStore(path)


def test_an_older_store_is_brought_up_to_date_in_one_transaction(path):
    def add_column(connection):
        connection.execute("ALTER TABLE runs ADD COLUMN owner TEXT NOT NULL DEFAULT ''")

    def fail(connection):
        add_column(connection)
        raise sqlite3.OperationalError("no")

    wanted = SCHEMA_VERSION + 1
    with pytest.raises(StoreError):
        open_file(path, migrations={SCHEMA_VERSION: fail}, version=wanted)
    with SqliteStore(path) as store:  # untouched: this version still opens it
        assert store.count("r") == 50
    open_file(path, migrations={SCHEMA_VERSION: add_column}, version=wanted).close()
    other = sqlite3.connect(path)
    assert other.execute("SELECT owner FROM runs").fetchall() == [("",)]
    assert other.execute("PRAGMA user_version").fetchone() == (wanted,)
    other.close()
    with pytest.raises(StoreDamagedError, match="cannot be brought"):
        open_file(path, migrations={}, version=wanted + 1)


_OTHER_PROCESS = """
import sys
from optim.store.sqlite import SqliteStore
with SqliteStore(sys.argv[1]) as store:
    store.create_run("toy", "", run_id=sys.argv[2])
"""


def test_a_process_with_two_stores_keeps_seeing_what_others_write(path):
    # Each of the others is, but for ours, the last to close the file, which lets it fold in and
    # remove the log. It must not take ours for gone.
    with SqliteStore(path) as first, SqliteStore(path) as second:
        for run_id in ("a", "b", "c"):
            subprocess.run(
                [sys.executable, "-c", _OTHER_PROCESS, str(path), run_id], cwd=ROOT, check=True
            )
            assert first.run(run_id).run_id == run_id
            assert second.run(run_id).run_id == run_id
        first.append("a", [row(0)])
        second.append("c", [row(0)])
    with SqliteStore(path) as store:
        assert [store.count(run_id) for run_id in ("r", "a", "b", "c")] == [50, 1, 0, 1]


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_a_file_cut_short_is_named_as_damaged(path, share):
    content = path.read_bytes()
    assert len(content) > 8192
    path.write_bytes(content[: int(len(content) * share)])
    with pytest.raises(StoreDamagedError, match=r"damaged .* restore it from a copy"):
        SqliteStore(path)


def test_scribbled_pages_are_named_as_damaged(path):
    content = bytearray(path.read_bytes())
    content[4096:8192] = os.urandom(4096)
    path.write_bytes(content)
    with pytest.raises(StoreDamagedError, match="damaged"):
        SqliteStore(path)


def test_columns_that_form_no_row_are_named(path):
    other = sqlite3.connect(path)
    other.execute("UPDATE evaluations SET metrics = '{\"b\": 2.' WHERE number = 7")
    other.commit()
    other.close()
    with SqliteStore(path) as store:
        with pytest.raises(StoreDamagedError, match="restore"):
            list(store.rows("r"))
        assert len(list(store.rows("r", since=8))) == 42


@pytest.mark.parametrize("share", [0.0, 0.37, 0.5, 0.81, 0.99])
def test_a_torn_log_keeps_a_prefix_of_whole_commits(path, tmp_path, share):
    # As after a loss of power: the log ends somewhere, the main file is older.
    with SqliteStore(path) as store:
        for start in range(50, 110, 5):
            store.append("r", [row(n) for n in range(start, start + 5)])
        torn = tmp_path / "torn"
        torn.mkdir()
        shutil.copy(path, torn / path.name)
        log = Path(f"{path}-wal").read_bytes()
        assert len(log) > 4096
        Path(torn, path.name + "-wal").write_bytes(log[: int(len(log) * share)])
    with SqliteStore(torn / path.name) as store:
        numbers = [r.number for r in store.rows("r")]
        assert numbers == list(range(len(numbers)))
        assert len(numbers) % 5 == 0
        assert 50 <= len(numbers) < 110
        store.append("r", [row(len(numbers))])


def drive_limited(path: str, limit: str) -> None:
    """Drive in a process that may not write files longer than a limit, as on a full disk."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), int(limit)))
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    with SqliteStore(path) as store:
        try:
            drive("r", ToySearcher(), SerialDispatcher(evaluate), store, functions=FUNCTIONS,
                  plan=PLAN)  # fmt: skip
        except StoreFullError as error:
            print(f"full: {error}")


def in_limited_process(path, limit):
    module = "tests.fault.test_store_damaged"
    call = f"from {module} import drive_limited; drive_limited({str(path)!r}, '{limit}')"
    return subprocess.run(
        [sys.executable, "-c", call], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout


def assert_resumes_to_the_undisturbed_run(path, tmp_path):
    with SqliteStore(path) as store:
        kept = contents(store, "r")
        assert 0 < len(kept) < PLAN.budget
        end = drive(
            "r", ToySearcher(), SerialDispatcher(evaluate), store, functions=FUNCTIONS, plan=PLAN
        )
        assert end.state == "done"
        found = contents(store, "r")
        assert found[: len(kept)] == kept
    with SqliteStore(tmp_path / "undisturbed.sqlite") as other:
        other.create_run("toy", "", run_id="r")
        drive("r", ToySearcher(), SerialDispatcher(evaluate), other, functions=FUNCTIONS, plan=PLAN)
        assert found == contents(other, "r")


def test_a_full_disk_stops_the_run_which_resumes_when_there_is_room(tmp_path):
    path = tmp_path / "paretorque.sqlite"
    with SqliteStore(path) as store:
        store.create_run("toy", "", run_id="r")
    printed = in_limited_process(path, 100_000)
    assert "full: paretorque.sqlite: cannot be written" in printed
    assert "then resume: every evaluation committed before is kept" in printed
    assert_resumes_to_the_undisturbed_run(path, tmp_path)


@pytest.fixture
def small_disk(tmp_path):
    place = tmp_path / "disk"
    place.mkdir()
    mounted = os.geteuid() == 0 and not subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(place)],
        capture_output=True, check=False,
    ).returncode  # fmt: skip
    if not mounted:
        pytest.skip("needs the right to mount a small disk")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_disk_that_is_really_full(small_disk, tmp_path):
    path = small_disk / "paretorque.sqlite"
    with SqliteStore(path) as store:
        store.create_run("toy", "", run_id="r")
        with pytest.raises(StoreFullError, match="free disk space, then resume"):
            drive(
                "r", ToySearcher(), SerialDispatcher(evaluate), store, functions=FUNCTIONS,
                plan=Plan(budget=5000, lag=10),
            )  # fmt: skip
        kept = contents(store, "r")
    assert kept
    with SqliteStore(path) as store:
        assert contents(store, "r") == kept


def test_a_store_that_may_not_be_written_is_named(tmp_path):
    # Root may write anywhere, so the place is one where no file can be made at all.
    with pytest.raises(StoreFullError, match=r"writable.*, or name another"):
        SqliteStore("/proc/paretorque.sqlite")
    place = tmp_path / "file"
    place.write_text("")
    with pytest.raises(StoreFullError, match="name another file"):
        SqliteStore(place / "paretorque.sqlite")
