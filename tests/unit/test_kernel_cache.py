"""The folder of compiled kernels changes with every file a kernel can depend on."""

from pathlib import Path

from models import kernel_cache
from models.kernel_cache import kernel_sources


def _package(root: Path) -> Path:
    (root / "inner").mkdir(parents=True)
    (root / "__init__.py").write_text("")
    (root / "kernel.py").write_text(
        "import numba\nfrom models.inner import (\n    laws,\n)\nfrom models.constants import MU0\n"
    )
    (root / "constants.py").write_text("MU0 = 1.0\n")
    (root / "inner" / "__init__.py").write_text("from models.inner.hidden import law\n")
    (root / "inner" / "laws.py").write_text("import models.deep\n")
    (root / "inner" / "hidden.py").write_text("law = 2\n")
    (root / "deep.py").write_text("")
    (root / "report.py").write_text("from models.kernel import thing\n")
    return root


def test_all_that_a_kernel_imports_is_found_and_nothing_else(tmp_path: Path) -> None:
    root = _package(tmp_path / "models")
    names = {path.relative_to(root).as_posix() for path in kernel_sources(root)}
    assert names == {
        "kernel.py",
        "constants.py",
        "inner/__init__.py",
        "inner/laws.py",
        "inner/hidden.py",
        "deep.py",
    }


def test_every_file_with_kernels_of_the_package_is_found() -> None:
    names = {path.relative_to(kernel_cache.ROOT).as_posix() for path in kernel_sources()}
    assert {"circuit/newton.py", "circuit/gap.py", "field/fronts.py", "constants.py"} <= names
    assert "cost/price_list.py" not in names
