"""The hand-over pack as its readers meet it: every file opened, nothing half written."""

import csv
import re
from dataclasses import replace
from html.parser import HTMLParser
from math import isclose
from xml.etree import ElementTree

import ezdxf
import pytest
from PIL import Image
from scipy.io import loadmat

from models.evaluate import evaluate
from models.nomenclature import METRICS, family_metrics
from optim.export import pack
from optim.export.data_sheet import data_sheet
from optim.export.design_file import read_design
from optim.export.errors import PackError
from optim.export.pack import PackFile, pack_files, write_pack
from optim.export.pictures import picture_data
from optim.study.model import Limit
from tests.export_case import CONTEXT, DUTY, performance, values


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    target = tmp_path_factory.mktemp("packs") / "candidate-12"
    files = write_pack(target, performance(), CONTEXT)
    assert sorted(files) == sorted(p for p in target.rglob("*") if p.is_file())
    return target


def test_design_file_evaluates_to_the_very_same_metrics(folder):
    for name in ("design.toml", "design.json"):
        record = read_design((folder / name).read_text(encoding="utf-8"), source=name)
        again = evaluate(record.parameters, DUTY, family=record.family, model=record.model)
        assert again.status == "ok"
        assert dict(again.metrics) == values()


def test_index_names_every_file_and_whom_it_is_for(folder):
    text = (folder / "README.txt").read_text(encoding="utf-8")
    for path in folder.rglob("*"):
        name = path.relative_to(folder).as_posix()
        if path.is_file() and name != "README.txt":
            assert re.search(rf"^  {re.escape(name)} +\w", text, re.MULTILINE), name
    for word in ("can kill or maim", "qualified engineers", "peak values", "run r7", "[exact_si]"):
        assert word in re.sub(r"\s+", " ", text)


def test_every_table_opens_with_units(folder):
    tables = sorted((folder / "tables").glob("*.csv"))
    assert len(tables) == 13
    for path in tables:
        lines = path.read_text(encoding="utf-8").splitlines()
        assert lines[0].startswith("# ")
        rows = list(csv.reader(line for line in lines if not line.startswith("#")))
        assert all(re.fullmatch(r"\w+ \[[^\]]+\]", cell) for cell in rows[0]), path.name
        assert all(len(row) == len(rows[0]) for row in rows)
        assert len(rows) > 5


def test_metrics_table_is_complete(folder):
    lines = (folder / "metrics.csv").read_text(encoding="utf-8").splitlines()
    rows = {r["name"]: r for r in csv.DictReader(x for x in lines if not x.startswith("#"))}
    assert set(rows) == set(family_metrics("interior"))
    for name, value in values().items():
        assert isclose(float(rows[name]["value"]), METRICS[name].shown(value), rel_tol=1e-9)
        assert rows[name]["unit"] == (METRICS[name].shown_unit or "-")


def test_mat_file_has_a_structure_for_each_table(folder):
    data = loadmat(folder / "tables" / "tables.mat", simplify_cells=True)
    names = {p.stem for p in (folder / "tables").glob("*.csv")}
    assert names <= set(data)
    assert data["control"]["units"]["i_d"] == "A"
    assert data["control"]["i_d"].ndim == 3


def test_drawings_and_pictures_open(folder):
    for path in folder.glob("*.dxf"):
        assert not ezdxf.readfile(path).audit().errors
    for path in [*folder.rglob("*.svg")]:
        assert ElementTree.parse(path).getroot().tag.endswith("svg")
    for path in folder.rglob("*.png"):
        with Image.open(path) as image:
            assert min(image.size) > 400


class _Page(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.links, self.ids, self.text = [], [], [], []

    def handle_starttag(self, tag, attributes):
        if tag not in ("meta", "path", "use", "rect", "circle", "polygon", "image", "br"):
            self.open.append(tag)
        for key, value in attributes:
            if key in ("src", "href", "xlink:href"):
                self.links.append(value)
            if key == "id":
                self.ids.append(value)

    def handle_startendtag(self, tag, attributes):
        self.handle_starttag(tag, attributes)
        if self.open and self.open[-1] == tag:
            self.open.pop()

    def handle_endtag(self, tag):
        if tag in self.open:
            assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def _page(text):
    page = _Page()
    page.feed(text)
    return page, re.sub(r"\s+", " ", " ".join(page.text))


def test_data_sheet_stands_alone():
    # Fixed values where the text below depends on them, so that better physics does not matter.
    fixed = {"back_emf_line_peak": 462.0, "magnet_mass": 1.32, "bridge_safety_factor": 0.75,
             "cost": 399.0}  # fmt: skip
    pictures = picture_data(performance(), CONTEXT)
    page, text = _page(data_sheet(performance(), {**values(), **fixed}, CONTEXT, pictures))
    assert page.open == []
    assert all(link.startswith(("#", "data:image/png;base64,")) for link in page.links)
    local = [link[1:] for link in page.links if link.startswith("#")]
    assert local
    assert set(local) <= set(page.ids)
    for word in (
        "Drive of an invented harbour shuttle", "candidate 12 (rank 1) of run r7", "▲ missed",
        "● binds", "-10.0 %", "prices of 2023", "amplitude-invariant", "can kill or maim",
        "qualified engineers", "bridge safety factor", "would yield", "seed 3", "Paretorque 0.1.0",
    ):  # fmt: skip
        assert word in text, word


def test_text_from_a_study_cannot_become_markup(tmp_path):
    evil = replace(CONTEXT, study_title="<script>alert(1)</script>", run_id="<i>r", limits=())
    files = {f.path: f.content.decode() for f in pack_files(performance(), evil)
             if f.path.endswith((".html", "sector.svg"))}  # fmt: skip
    assert len(files) == 2
    for content in files.values():
        assert "<script" not in content
        assert "<i>" not in content


def test_the_same_design_gives_the_same_bytes(folder):
    for file in pack_files(performance(), CONTEXT):
        assert (folder / file.path).read_bytes() == file.content, file.path


@pytest.fixture
def _small(monkeypatch):
    """A pack of two short files: how folders are written does not depend on what is in them."""
    files = tuple(PackFile(n, "all", "short", b"text") for n in ("README.txt", "design.toml"))
    monkeypatch.setattr(pack, "pack_files", lambda *_, **__: files)


@pytest.mark.usefixtures("_small")
def test_a_folder_with_content_is_refused_then_replaced_when_asked(tmp_path):
    target = tmp_path / "pack"
    target.mkdir()
    write_pack(target, performance(), CONTEXT)  # an empty folder is as good as none
    (target / "old.txt").write_text("from before")
    with pytest.raises(PackError, match="not empty"):
        write_pack(target, performance(), CONTEXT)
    assert (target / "old.txt").exists()
    write_pack(target, performance(), CONTEXT, is_replacing=True)
    assert not (target / "old.txt").exists()
    assert (target / "README.txt").exists()
    assert [p.name for p in tmp_path.iterdir()] == ["pack"]


@pytest.mark.usefixtures("_small")
def test_what_is_no_pack_is_never_replaced(tmp_path):
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(PackError, match="no hand-over pack"):
        write_pack(tmp_path, performance(), CONTEXT, is_replacing=True)
    assert (tmp_path / "thesis.txt").read_text() == "years of work"
    with pytest.raises(PackError, match="not a folder"):
        write_pack(tmp_path / "thesis.txt", performance(), CONTEXT, is_replacing=True)
    with pytest.raises(PackError, match="parent folder"):
        write_pack(tmp_path / "a" / "b", performance(), CONTEXT)


@pytest.mark.usefixtures("_small")
def test_a_failure_on_the_way_leaves_nothing_behind(tmp_path, monkeypatch):
    def broken(*_):
        raise OSError("disk full")

    monkeypatch.setattr(pack, "_move", broken)
    with pytest.raises(PackError, match="disk full"):
        write_pack(tmp_path / "pack", performance(), CONTEXT)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("_small")
def test_a_failure_while_replacing_keeps_the_old_pack(tmp_path, monkeypatch):
    target = tmp_path / "pack"
    write_pack(target, performance(), CONTEXT)
    (target / "note.txt").write_text("old")
    rename = pack.Path.rename

    def failing(path, to):
        if path.name.startswith(".pack-") and "old" not in path.name:
            raise OSError("gone")
        return rename(path, to)

    monkeypatch.setattr(pack.Path, "rename", failing)
    with pytest.raises(PackError, match="gone"):
        write_pack(target, performance(), CONTEXT, is_replacing=True)
    assert (target / "note.txt").read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["pack"]


def test_a_design_of_no_run_can_be_exported_too():
    bare = replace(CONTEXT, run_id="", candidate=None, rank=None, seed=None,
                   limits=(Limit("peak_torque", ">=", 100.0),))  # fmt: skip
    files = {f.path: f.content for f in pack_files(performance(), bare)}
    record = read_design(files["design.json"].decode())
    assert record.candidate is None
    assert b"None" not in files["README.txt"]
    assert b"None" not in files["data_sheet.html"].split(b"<svg")[0]
