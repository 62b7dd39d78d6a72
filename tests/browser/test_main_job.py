"""The main job on the page: from a study to a tighter one and a pack, as a person does it."""

import io
import re
import zipfile

import httpx
import pytest

from tests.browser.conftest import drawn
from tests.service_case import lenient_study, lenient_text, rows_of

BUDGET = 400
"""Enough that a run is still going when the page cancels it a second after its start."""
_PATIENCE_MS = 600_000


@pytest.fixture(scope="module")
def study() -> str:
    """The demo study with limits that are easily kept and a small budget."""
    rows_of(lenient_study(), 1)  # compiles the models, so that the service finds them compiled
    text = lenient_text()
    text = re.sub(r"budget = \d+", f"budget = {BUDGET}", text)
    return re.sub(r"population = \d+", "population = 20", text)


def evaluations(page) -> int:
    """Return how many evaluations the title block tells."""
    text = page.locator(".title-block .progress span").inner_text()
    return int(text.split(" of ")[0].replace(",", ""))


def ranking(page) -> list[int]:
    """Return the candidates of the ranked table, best first."""
    rows = page.locator("tr[data-candidate]")
    return [int(c) for c in rows.evaluate_all("rows => rows.map(r => r.dataset.candidate)")]


@pytest.mark.timeout(1800)
def test_from_a_study_to_a_tighter_one_and_a_pack(service_url, open_page, study):
    page = open_page(service_url)
    page.get_by_role("link", name="New study").first.click()
    editor = page.get_by_role("textbox", name="Study, TOML")

    # A mistake is shown at its line, and the study cannot be submitted.
    editor.fill(study.replace("dc_voltage_v = 350", 'dc_voltage_v = "high"'))
    line = 1 + study[: study.index("dc_voltage_v = 350")].count("\n")
    page.get_by_role("button", name=f"line {line}").wait_for()
    assert page.locator(".gutter .bad").inner_text().endswith(str(line))
    submit = page.locator("[data-part=submit]")
    assert submit.is_disabled()

    editor.fill(study)
    page.get_by_role("heading", name="Ready").wait_for()
    submit.click()

    # The front grows while the search runs.
    page.wait_for_url(re.compile(r"#/run/"))
    page.locator("tr[data-candidate]").first.wait_for(timeout=_PATIENCE_MS)
    first = evaluations(page)
    page.wait_for_function(
        "first => Number(document.querySelector('.title-block .progress span')"
        ".textContent.split(' of ')[0].replace(',', '')) > first",
        arg=first,
        timeout=_PATIENCE_MS,
    )
    assert 0 < first < BUDGET
    page.locator(".title-block [data-state=done]").wait_for(timeout=_PATIENCE_MS)
    assert evaluations(page) == BUDGET

    run = page.url.split("#/run/")[1]

    def server_ranking(**query) -> list[int]:
        address = f"{service_url}/api/v1/runs/{run}/front"
        found = httpx.get(address, params=query, timeout=60.0).json()
        return [c["candidate"] for c in found["candidates"]]

    drawn(page)
    assert ranking(page) == server_ranking()[:25]

    # Weights moved by the keyboard re-rank at once, as the command line would.
    for metric in ("cost", "cycle_efficiency", "magnet_mass", "peak_torque"):
        page.locator(f"[data-weight={metric}]").focus()
        page.keyboard.press("End" if metric == "peak_torque" else "Home")
    by_torque = server_ranking(weights="peak_torque=5")
    # The best may be best before the last slider has told: the whole table is waited for.
    page.wait_for_function(
        "order => [...document.querySelectorAll('tr[data-candidate]')]"
        ".map(row => row.dataset.candidate).join() === order",
        arg=",".join(map(str, by_torque[:25])),
    )
    page.get_by_role("button", name="as in the study").click()

    # A candidate in full, and its pack.
    best = server_ranking()[0]
    page.get_by_role("link", name=str(best), exact=True).click()
    page.get_by_role("heading", name="Efficiency").wait_for(timeout=_PATIENCE_MS)
    for heading in ("Torque against current angle", "Back-EMF, inverter off", "Losses", "Margins"):
        assert page.get_by_role("heading", name=heading).is_visible()
    assert page.locator(".section-drawing svg path").count() > 5
    assert "High voltage" in page.locator(".cautions").inner_text()
    with page.expect_download(timeout=_PATIENCE_MS) as download:
        page.locator("[data-part=pack]").click()
    names = zipfile.ZipFile(io.BytesIO(download.value.path().read_bytes())).namelist()
    assert any(name.endswith(".dxf") for name in names)

    # A limit made tighter brings the search on; nothing known is evaluated again.
    page.go_back()
    limit = page.locator("[data-limit=launch_torque]")
    limit.focus()
    for _ in range(30):
        page.keyboard.press("ArrowRight")
    again = page.locator("[data-part=rerun]")
    again.wait_for()
    drawn(page)
    wanted = page.locator(".again code").inner_text()
    again.click()
    page.wait_for_url(re.compile(rf"#/run/(?!{run})"))
    page.get_by_role("link", name=run).wait_for()
    tighter = page.url.split("#/run/")[1]
    found = httpx.get(f"{service_url}/api/v1/runs/{tighter}/study", timeout=60.0).json()
    bounds = [limit for limit in found["study"]["limits"] if limit.startswith("launch_torque")]
    assert bounds == [wanted.replace("≥", ">=").replace("N·m", "N*m")]
    page.once("dialog", lambda dialog: dialog.accept())
    page.locator("[data-action=cancel]").click()
    page.locator(".title-block [data-state=cancelled]").wait_for(timeout=60_000)
