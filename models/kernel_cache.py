"""Where compiled kernels are kept between processes.

The compiler's disk cache looks only at the file of the function it compiles. A kernel that calls
another from a changed file would run the old code without a word. So the cache folder is named
after the content of every source file of this package: change one, and all compile afresh.
"""

import os
from hashlib import sha256
from pathlib import Path

import numba


def keep_compiled_kernels_apart() -> None:
    """Point the compiler's cache to a folder of this very source, unless the user set one."""
    if os.environ.get("NUMBA_CACHE_DIR"):
        return
    base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    # The library makes this attribute at import, out of a type checker's sight.
    numba.config.CACHE_DIR = str(Path(base) / "paretorque" / _digest())  # type: ignore[attr-defined]


def _digest() -> str:
    """Return a short digest of the compiler's version and all Python sources of this package."""
    root = Path(__file__).parent
    digest = sha256(numba.__version__.encode())
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]
