"""Where compiled kernels are kept between processes.

The compiler's disk cache looks only at the file of the function it compiles. A kernel that calls
another from a changed file, or that was compiled with a constant of one, would run the old code
without a word. So the cache folder is named after the content of every source file that holds
kernels and of all they import from this package: change one, and all compile afresh.
"""

import os
import re
from hashlib import sha256
from pathlib import Path

import numba

IMPORT = re.compile(
    r"^\s*(?:from|import)\s+(models(?:\.\w+)*)(?:\s+import\s+(\([^)]*\)|.+))?", re.MULTILINE
)
NAME = re.compile(r"\w+")
ROOT = Path(__file__).parent


def prepare_compiler() -> None:
    """Turn on vector instructions; keep compiled kernels in a folder of this very source.

    Unless the user set a folder of their own.
    """
    # Rows of lanes (`models.circuit.lanes`) become vector instructions only with this.
    numba.config.SLP_VECTORIZE = 1  # type: ignore[attr-defined]
    if os.environ.get("NUMBA_CACHE_DIR"):
        return
    base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    # The library makes this attribute at import, out of a type checker's sight.
    numba.config.CACHE_DIR = str(Path(base) / "paretorque" / _digest())  # type: ignore[attr-defined]


def kernel_sources(root: Path = ROOT) -> tuple[Path, ...]:
    """Return the files that a compiled kernel can depend on, sorted.

    Those that import the compiler, and every file of the package that they import, and so on.
    """
    texts = {path: path.read_text() for path in sorted(root.rglob("*.py"))}
    waiting = [path for path, text in texts.items() if "import numba" in text]
    found: set[Path] = set()
    while waiting:
        path = waiting.pop()
        if path in found:
            continue
        found.add(path)
        for module, names in IMPORT.findall(texts[path]):
            # A name brought in may be a module of its own or something inside the module named.
            for target in (module, *(f"{module}.{name}" for name in NAME.findall(names))):
                place = root.joinpath(*target.split(".")[1:])
                waiting += [
                    file
                    for file in (place.with_suffix(".py"), place / "__init__.py")
                    if file in texts and place != root
                ]
    return tuple(sorted(found))


def _digest() -> str:
    """Return a short digest of the compiler's version and of all sources of the kernels."""
    digest = sha256(numba.__version__.encode())
    for path in kernel_sources():
        digest.update(path.relative_to(ROOT).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]
