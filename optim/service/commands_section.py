"""The command that writes a design's section for other people's tools."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from models.geometry.build import build
from optim.service import documents, options
from optim.service.designs import file_design, named_design
from optim.service.errors import RequestError
from optim.service.failures import DONE
from optim.service.run_store import open_store
from optim.service.screen import make_screen


def section(
    source: Annotated[
        str, typer.Argument(metavar="DESIGN|RUN[:CANDIDATE]", help="Design file, or of a run.")
    ],
    geojson: Annotated[
        Path | None, typer.Option("--geojson", metavar="FILE", help="File to write; - for here.")
    ] = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace the file.")] = False,
    store: options.StorePath = None,
    json: options.Json = False,
    quiet: options.Quiet = False,
    verbose: options.Verbose = False,
) -> int:
    """Write a design's section as open polygons (GeoJSON, mm) with materials and winding.

    \b
      paretorque section last --geojson section.geojson
      paretorque section packs/best/design.toml --geojson -
    """
    from optim.export.section_geojson import section_geojson

    screen = make_screen(is_json=json, is_quiet=quiet)
    if geojson is None:
        raise RequestError("--geojson: not given; allowed: a file, or - for standard output")
    is_here = str(geojson) == "-"
    if is_here and json:
        raise RequestError("--geojson - and --json: given both; allowed: one of them")
    if not is_here:
        _check(geojson, is_overwriting=overwrite)
    if Path(source).suffix in (".toml", ".json"):
        # Shape and materials need no study, so no store either.
        design = file_design(Path(source), None)
    else:
        with open_store(store) as opened:
            design = named_design(opened, source)
    text = section_geojson(
        build(design.parameters, family=design.family), lines=(f"design {design.label}",)
    )
    if is_here:
        sys.stdout.write(text)
        return DONE
    geojson.write_text(text, encoding="utf-8")
    polygons = text.count('"Feature"')
    screen.show_document(documents.section_document(design.label, str(geojson), polygons))
    screen.show(f"{design.label}: {polygons} polygons in {geojson}")
    return DONE


def _check(path: Path, *, is_overwriting: bool) -> None:
    if not path.parent.is_dir():
        raise RequestError(f"--geojson: {path.parent} is no folder; make it first")
    if path.is_dir():
        raise RequestError(f"--geojson: {path} is a folder; allowed: a file")
    if path.exists() and not is_overwriting:
        raise RequestError(
            f"--geojson: {path} is there already; choose another name, or give --overwrite"
        )
