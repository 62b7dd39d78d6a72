"""Tables with a unit on every column, written as CSV and MAT files."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from scipy.io import savemat

from models.axes import is_turned
from models.performance.loss_parts import Losses

Array = NDArray[np.float64]
DIGITS = 10
"""Significant digits of numbers in CSV: far below any model's error, enough to repeat sums."""
_MAT_TEXT = 116
"""Length of the free text at the head of a level-5 MAT file [bytes]."""


EDDY_NOTE = "magnets, and the sleeve over them"
CAGE_NOTE = "bars and rings (slip times gap power), and stray load loss"
"""What a column of rotor eddy loss covers."""


@dataclass(frozen=True, eq=False)
class Column:
    """One column.

    Attributes
    ----------
    name : str
        Name in snake case, valid as a variable name.
    unit : str
        Unit, `-` for none.
    values : ndarray or tuple of str
        Flat values.
    meaning : str
        One phrase for people who did not make the file; empty if the name says it.
    """

    name: str
    unit: str
    values: Array | tuple[str, ...]
    meaning: str = ""


@dataclass(frozen=True, eq=False)
class Table:
    """Columns of equal length.

    Attributes
    ----------
    name : str
        Name of the file without its ending, and of the structure in the MAT file.
    title : str
        One line.
    columns : tuple of Column
        The columns.
    notes : tuple of str
        What a reader must know beside the conventions.
    shape : tuple of int
        Grid that the flat rows run through, last index fastest; empty for plain lists. MAT files
        carry the columns in this shape.
    """

    name: str
    title: str
    columns: tuple[Column, ...]
    notes: tuple[str, ...] = field(default=())
    shape: tuple[int, ...] = ()

    def __getitem__(self, name: str) -> Array:
        for column in self.columns:
            if column.name == name:
                return np.asarray(column.values)
        raise KeyError(f"table {self.name!r} has no column {name!r}")


def column(name: str, unit: str, values: object, meaning: str = "") -> Column:
    """Return a column of numbers from an array of any shape."""
    return Column(name, unit, np.ravel(np.asarray(values, dtype=float)), meaning)


def current_note(family: str, axis: str) -> str:
    """Return what is said of a current along d or q in a table with both directions of power."""
    is_torque_axis = (axis == "d") == is_turned(family)
    return "peak value, negative when generating" if is_torque_axis else "peak value"


def csv_text(table: Table, head: Sequence[str]) -> str:
    """Return a table as CSV (RFC 4180 rows with LF) after comment lines that start with #.

    Parameters
    ----------
    table : Table
        The table.
    head : sequence of str
        Origin and conventions (`optim.export.context.provenance`).

    Returns
    -------
    str
        UTF-8 text: comments, one header row `name [unit]`, rows. Decimal points, no blanks.
    """
    lines = [table.title, *head, *table.notes]
    lines += [f"column {c.name} [{c.unit}]: {c.meaning}" for c in table.columns if c.meaning]
    out = [f"# {line}" for line in lines]
    out.append(",".join(_cell(f"{c.name} [{c.unit}]") for c in table.columns))
    texts = [_texts(c) for c in table.columns]
    out += [",".join(row) for row in zip(*texts, strict=True)]
    return "\n".join(out) + "\n"


def _texts(column: Column) -> list[str]:
    if isinstance(column.values, tuple):
        return [_cell(text) for text in column.values]
    return [f"{value + 0.0:.{DIGITS}g}" for value in column.values]  # + 0.0: no minus zero


def _cell(text: str) -> str:
    return '"' + text.replace('"', '""') + '"' if set(text) & set(',"\n\r') else text


def mat_bytes(tables: Sequence[Table], head: Sequence[str]) -> bytes:
    """Return tables as one level-5 MAT file, a structure for each.

    Parameters
    ----------
    tables : sequence of Table
        The tables; each becomes a structure with its columns, `units` (a structure of texts by
        column), `title` and `notes`.
    head : sequence of str
        Origin and conventions, as the text array `about`.
    """
    data: dict[str, object] = {"about": _text_array(head)}
    for table in tables:
        numbers = {
            c.name: np.reshape(c.values, table.shape) if table.shape else _plain(c)
            for c in table.columns
        }
        data[table.name] = {
            **numbers,
            "units": {c.name: c.unit for c in table.columns},
            "title": table.title,
            "notes": _text_array(table.notes),
        }
    stream = BytesIO()
    savemat(stream, data, long_field_names=True, do_compression=True, oned_as="column")
    content = stream.getvalue()
    # The writer puts the time of day into the free text: one design shall give one file.
    start = content[:_MAT_TEXT].split(b",")[0]
    return start.ljust(_MAT_TEXT) + content[_MAT_TEXT:]


def _plain(column: Column) -> object:
    if isinstance(column.values, tuple):
        return _text_array(column.values)
    return np.reshape(column.values, (-1, 1))


def _text_array(lines: Sequence[str]) -> NDArray[np.object_]:
    out = np.empty((len(lines), 1), dtype=object)
    out[:, 0] = list(lines)
    return out


def rotor_loss(parts: Losses, *, is_cage: bool) -> Column:
    """Return the column of what the rotor's magnets and sleeve, or its cage, lose."""
    if is_cage:
        return column("loss_cage", "W", parts.cage + parts.stray, CAGE_NOTE)
    return column("loss_magnet", "W", parts.magnet + parts.sleeve, EDDY_NOTE)
