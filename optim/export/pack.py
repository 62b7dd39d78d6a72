"""The hand-over pack: every file about one design in one folder."""

import csv
import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from tempfile import mkdtemp

from models.cost import priced
from models.nomenclature import METRICS
from models.performance.summary import Performance
from models.performance.summary import metrics as all_metrics
from optim.export.bill import bill_table, sensitivity_table
from optim.export.context import PackContext, footer, provenance
from optim.export.data_sheet import data_sheet
from optim.export.design_file import design_json, design_record, design_toml
from optim.export.drawing_dxf import section_dxf
from optim.export.drawing_svg import section_svg
from optim.export.drive_tables import control_table, cycle_table, envelope_table, fault_table
from optim.export.errors import PackError
from optim.export.map_tables import cage_table, efficiency_table, flux_table, loss_coefficient_table
from optim.export.noise_table import force_order_table
from optim.export.outlines import drawn_poles
from optim.export.pack_index import index_text
from optim.export.pictures import drawings, picture_data
from optim.export.plots.figure import png_bytes, svg_text
from optim.export.plots.front import FrontPicture, draw_front
from optim.export.table import csv_text, mat_bytes
from optim.export.thermal_table import thermal_branch_table, thermal_node_table


@dataclass(frozen=True)
class PackFile:
    """A file of the pack: path inside the folder, whom it is for, what it holds."""

    path: str
    reader: str
    what: str
    content: bytes


def write_pack(
    folder: Path,
    performance: Performance,
    context: PackContext,
    *,
    front: FrontPicture | None = None,
    field_values: Mapping[str, float] | None = None,
    is_replacing: bool = False,
) -> list[Path]:
    """Write the hand-over pack of a design.

    Parameters
    ----------
    folder : Path
        Folder to make; its parent must exist.
    performance : Performance
        The design.
    context : PackContext
        Provenance, limits, prices.
    front : FrontPicture, optional
        Everything that its run evaluated, for a picture of the trade-offs around it.
    field_values : mapping of str to float, optional
        Metrics [SI] by the field model, where the design was verified by it.
    is_replacing : bool
        Whether a folder that already holds something may be replaced.

    Returns
    -------
    list of Path
        Files written, index first.

    Raises
    ------
    PackError
        The folder holds something and may not be replaced, is a file, or cannot be written.

    Notes
    -----
    Everything is written beside the folder first and moved into place at the end, so a pack is
    there in full or not at all. One design in one context always gives the same bytes.
    """
    check_place(folder, is_replacing=is_replacing)
    files = pack_files(performance, context, front=front, field_values=field_values)
    contents = {file.path: file.content for file in files}
    return place_pack(folder, contents, is_replacing=is_replacing)


def place_pack(
    folder: Path, contents: Mapping[str, bytes], *, is_replacing: bool = False
) -> list[Path]:
    """Put the files of a pack in place, in full or not at all.

    Parameters
    ----------
    folder : Path
        See `write_pack`.
    contents : mapping of str to bytes
        Files by their path inside the folder, at most one folder deep.
    is_replacing : bool
        See `write_pack`.

    Raises
    ------
    PackError
        See `write_pack`; also for a path that leads out of the folder.
    """
    target = Path(os.path.abspath(folder))
    check_place(folder, is_replacing=is_replacing)
    for name in contents:
        pieces = name.split("/")
        if len(pieces) > 2 or "\\" in name or any(p in ("", ".", "..") for p in pieces):
            raise PackError(f"{name!r} is no path of a file in a pack; nothing was written")
    try:
        made = Path(mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    except OSError as error:
        raise PackError(f"{folder}: cannot write beside it ({error}); choose another place") from (
            error
        )
    try:
        made.chmod(0o755)
        for name, content in contents.items():
            path = made / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content)
        _move(made, target)
    except OSError as error:
        raise PackError(f"{folder}: the pack could not be written ({error})") from error
    finally:
        shutil.rmtree(made, ignore_errors=True)
    return [target / name for name in contents]


def pack_files(
    performance: Performance,
    context: PackContext,
    *,
    front: FrontPicture | None = None,
    field_values: Mapping[str, float] | None = None,
) -> tuple[PackFile, ...]:
    """Return every file of the pack with its content, index first."""
    values = dict(all_metrics(performance))
    values |= priced(values, performance.machine.parameters, context.prices)
    head = provenance(performance, context)
    files = [
        *_design(performance, context, values, head),
        *_tables(performance, context, values, head),
        *_pictures(performance, context, values, front),
    ]
    if field_values:
        files.append(
            PackFile("verification.csv", "design, management", "every number by the model of the "
                     "search and by finite elements",
                     _verification_csv(values, field_values, head).encode())
        )  # fmt: skip
    index = index_text(context.design_name, head, [(f.path, f.reader, f.what) for f in files])
    return (PackFile("README.txt", "everybody", "this index", index.encode()), *files)


def check_place(folder: Path, *, is_replacing: bool) -> None:
    """Refuse a folder that a pack may not be written to.

    Raises
    ------
    PackError
        With what to do instead.
    """
    target = Path(os.path.abspath(folder))
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise PackError(f"{target}: is not a folder; give the name of a new folder")
    if not target.parent.is_dir():
        raise PackError(f"{target}: its parent folder does not exist; make it first")
    if not target.is_dir() or not any(target.iterdir()):
        return
    if not is_replacing:
        raise PackError(
            f"{target}: the folder is not empty; choose another, or ask for it to be replaced"
        )
    if not (target / "README.txt").is_file() or not (target / "design.toml").is_file():
        raise PackError(
            f"{target}: the folder holds something that is no hand-over pack, so it is not "
            f"replaced; choose another"
        )


def _move(made: Path, target: Path) -> None:
    """Put the new folder in place; the old one goes only once the new one stands."""
    if not target.exists():
        made.rename(target)
        return
    old = Path(mkdtemp(prefix=f".{target.name}-old-", dir=target.parent))
    target.rename(old / "pack")
    try:
        made.rename(target)
    except OSError:
        (old / "pack").rename(target)
        old.rmdir()
        raise
    # Only here is the old pack no longer the only one.
    shutil.rmtree(old, ignore_errors=True)


def _design(
    performance: Performance,
    context: PackContext,
    values: Mapping[str, float],
    head: tuple[str, ...],
) -> list[PackFile]:
    machine = performance.machine
    record = design_record(
        machine.parameters, performance.duty, family=machine.family,
        model=performance.model.name, context=context,
    )  # fmt: skip
    poles = drawn_poles(machine)
    return [
        PackFile("design.toml", "design", "parameters, shown with units and exact in SI",
                 design_toml(record).encode()),
        PackFile("design.json", "design", "the same for programs", design_json(record).encode()),
        PackFile("metrics.csv", "design, management", "every number of the evaluation with unit "
                 "and definition", _metrics_csv(values, head).encode()),
        PackFile("section_sector.dxf", "mechanical", f"{poles}, mm, a layer for each part",
                 section_dxf(performance, lines=head).encode()),
        PackFile("section_full.dxf", "mechanical", "the whole machine, mm, a layer for each part",
                 section_dxf(performance, lines=head, is_full=True).encode()),
    ]  # fmt: skip


def _metrics_csv(values: Mapping[str, float], head: tuple[str, ...]) -> str:
    stream = StringIO()
    stream.writelines(f"# {line}\n" for line in head)
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["name", "symbol", "value", "unit", "definition"])
    for name, value in values.items():
        m = METRICS[name]
        writer.writerow([name, m.symbol, f"{m.shown(value):.10g}", m.shown_unit or "-",
                         m.definition])  # fmt: skip
    return stream.getvalue()


def _verification_csv(
    values: Mapping[str, float], field_values: Mapping[str, float], head: tuple[str, ...]
) -> str:
    stream = StringIO()
    stream.writelines(f"# {line}\n" for line in head)
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["name", "circuit", "field", "unit"])
    for name, value in values.items():
        if name in field_values:
            m = METRICS[name]
            pair = [f"{m.shown(v):.10g}" for v in (value, field_values[name])]
            writer.writerow([name, *pair, m.shown_unit or "-"])
    return stream.getvalue()


def _tables(
    performance: Performance,
    context: PackContext,
    values: Mapping[str, float],
    head: tuple[str, ...],
) -> list[PackFile]:
    hot = performance.duty.temperatures.magnet_hot
    # linkages of a cage machine do not know its temperature: slip takes the hot map's place
    cage = cage_table(performance)
    readers = (
        ("control", flux_table(performance)),
        ("control", flux_table(performance, hot) if cage is None else cage),
        ("control", loss_coefficient_table(performance)),
        ("control", control_table(performance)),
        ("control, vehicle", envelope_table(performance)),
        ("control, test", fault_table(performance)),
        ("vehicle, test, thermal", efficiency_table(performance)),
        ("vehicle, thermal", cycle_table(performance)),
        ("purchasing", bill_table(performance, values, context)),
        ("purchasing", sensitivity_table(performance, values, context)),
        ("thermal", thermal_node_table(performance)),
        ("thermal", thermal_branch_table(performance)),
        *(("noise", table) for table in [force_order_table(performance)] if table is not None),
    )
    files = [
        PackFile(f"tables/{table.name}.csv", reader, table.title, csv_text(table, head).encode())
        for reader, table in readers
    ]
    content = mat_bytes([table for _, table in readers], head)
    return [*files, PackFile("tables/tables.mat", "control, vehicle", "all tables in one level-5 "
                             "MAT file, a structure each", content)]  # fmt: skip


def _pictures(
    performance: Performance,
    context: PackContext,
    values: Mapping[str, float],
    front: FrontPicture | None,
) -> list[PackFile]:
    foot = footer(context, model=performance.model.name)
    data = picture_data(performance, context)
    poles = drawn_poles(performance.machine)
    files = [
        PackFile("data_sheet.html", "management, everybody", "one page on the design, prints on A4",
                 data_sheet(performance, values, context, data).encode()),
        PackFile("section_sector.svg", "mechanical, management", f"{poles} with dimensions",
                 section_svg(data.section, foot=foot,
                             title=f"{poles.capitalize()} of {context.design_name}",
                             ).encode()),
    ]  # fmt: skip
    drawn = drawings(data, footer=foot)
    if front is not None:
        drawn["front"] = lambda: draw_front(front, footer=foot)
    for name, draw in drawn.items():
        title = name.replace("_", " ")
        files.append(PackFile(f"plots/{name}.svg", "reports", f"{title}, scalable",
                              svg_text(draw(), name=name).encode()))  # fmt: skip
        files.append(PackFile(f"plots/{name}.png", "slides", f"{title}, image",
                              png_bytes(draw())))  # fmt: skip
    return files
