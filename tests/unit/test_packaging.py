"""What an installed copy holds: every file that the program reads, not its modules alone."""

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_every_data_file_is_package_data() -> None:
    table = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    packed: set[Path] = set()
    for package, patterns in table["tool"]["setuptools"]["package-data"].items():
        for pattern in patterns:
            found = set((ROOT / package.replace(".", "/")).glob(pattern))
            assert found, f"{package}: {pattern} is nothing"
            packed |= {
                p for match in found for p in (match.rglob("*") if match.is_dir() else [match])
            }
    data = {
        path
        for package in ("models", "optim")
        for path in (ROOT / package).rglob("*")
        if path.is_file() and path.suffix not in (".py", ".pyc", ".nbi", ".nbc")
    }
    assert len(data) > 20
    assert not data - packed
