"""The README of a hand-over pack: each file, whom it is for, units, cautions."""

from collections.abc import Sequence
from textwrap import wrap

from optim.export.data_sheet import CAUTIONS

_WIDTH = 96


def index_text(title: str, head: Sequence[str], files: Sequence[tuple[str, str, str]]) -> str:
    """Return the index.

    Parameters
    ----------
    title : str
        Name of the design.
    head : sequence of str
        Origin, conditions and conventions.
    files : sequence of (path, reader, what)
        Files of the pack.
    """
    longest = max(len(path) for path, _, _ in files)
    widest = max(len(reader) for _, reader, _ in files)
    lines = [f"Hand-over pack: {title}", "", "Origin and conventions"]
    lines += [part for line in head for part in _item(line)]
    lines += ["", "Files (file, for whom, what)"]
    lines += [f"  {path:<{longest}}  {reader:<{widest}}  {what}" for path, reader, what in files]
    lines += ["", "Units"]
    for text in (
        "Tables carry the unit of each column in its header: name [unit]. Lines that start with # "
        "are comments. Decimal point, comma between columns, UTF-8.",
        "design.toml and design.json: keys end in their unit under [shown]; [exact_si] is in SI.",
        "Drawings are in millimetres. They show the magnetic design: no tolerances, fillets, "
        "fits or fixings.",
    ):
        lines += _item(text)
    lines += ["", "Cautions"]
    lines += [part for text in CAUTIONS for part in _item(text)]
    return "\n".join(lines) + "\n"


def _item(text: str) -> list[str]:
    return wrap(text, _WIDTH, initial_indent="  - ", subsequent_indent="    ")
