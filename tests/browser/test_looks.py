"""Keyboard, narrow screens, both colour schemes, names for screen readers, shapes of outcomes."""

import httpx
import pytest

from optim.service.run_store import open_store
from tests.browser.conftest import DESKTOP, PHONE, drawn
from tests.service_case import add_run, lenient_study, rows_of, served

_UNNAMED = """
() => [...document.querySelectorAll(
    "a, button, input, select, textarea, [role=slider], [tabindex]")]
  .filter((e) => e.checkVisibility() && e.id !== "content")
  .filter((e) => !(e.ariaLabel || e.innerText?.trim() || e.textContent?.trim() || e.labels?.length
                   || e.getAttribute("aria-labelledby")))
  .map((e) => e.outerHTML.slice(0, 120))
"""
DESIGNS = 40
_WIDE = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A service with one finished run of really evaluated designs."""
    folder = tmp_path_factory.mktemp("looks")
    with open_store(str(folder / "runs.sqlite"), is_new_allowed=True) as store:
        run = add_run(store, "local", rows_of(lenient_study(), DESIGNS)).run_id
    with served(folder) as (_, url):
        yield url, run


def addresses(run):
    return ["#/", "#/new", f"#/run/{run}", f"#/run/{run}/candidate/0", "#/compare"]


def settled(page, address):
    """Wait until a view shows what it is for."""
    first = {"#/": "table.runs tbody tr", "#/new": ".findings h2", "#/compare": ".panel"}
    if "candidate" in address:
        page.locator(".section-drawing svg").wait_for(timeout=120_000)
        page.locator(".chart").first.wait_for(timeout=120_000)
    else:
        page.locator(first.get(address, "tr[data-candidate]")).first.wait_for()
    if address.startswith("#/run/") and "candidate" not in address:
        page.wait_for_function(
            "n => [...document.querySelectorAll('.legend [data-shape] b')]"
            ".reduce((sum, b) => sum + Number(b.textContent.replace(',', '')), 0) === n",
            arg=DESIGNS,
        )
        drawn(page)


@pytest.mark.parametrize(("viewport", "dark"), [(PHONE, False), (DESKTOP, True)])
def test_every_view_fits_its_screen_and_names_what_can_be_used(place, open_page, viewport, dark):
    url, run = place
    for address in addresses(run):
        page = open_page(f"{url}/{address}", viewport=viewport, dark=dark)
        settled(page, address)
        assert page.evaluate(_WIDE) <= 0, address
        assert page.evaluate(_UNNAMED) == [], address
        assert page.locator("h1").count() == 1, address


def test_the_front_can_be_walked_and_a_candidate_opened_by_keyboard(place, open_page):
    url, run = place
    page = open_page(f"{url}/#/run/{run}")
    settled(page, f"#/run/{run}")
    page.locator("[data-part=front-plot]").focus()
    page.keyboard.press("ArrowRight")
    name = page.locator("[data-part=picked] h2")
    first = name.inner_text()
    page.keyboard.press("ArrowRight")
    drawn(page)
    assert name.inner_text() != first
    page.keyboard.press("Enter")
    page.wait_for_url("**/candidate/*")


def test_what_a_step_would_change_is_evaluated_on_a_button(place, open_page):
    url, run = place
    page = open_page(f"{url}/#/run/{run}/candidate/0", viewport=PHONE)
    settled(page, f"#/run/{run}/candidate/0")
    page.locator("[data-part=explain]").focus()
    page.keyboard.press("Enter")
    page.locator(".steps").first.wait_for(timeout=120_000)
    assert page.evaluate(_WIDE) <= 0
    address = f"{url}/api/v1/runs/{run}/candidates/0/explanation"
    steps = httpx.get(address, timeout=120.0).json()["steps"]
    heads = page.locator(".steps").first.locator("thead th").all_inner_texts()[2:]
    assert [head.split("\n")[0] for head in heads] == [step["step"] for step in steps]
    torque = page.locator(".steps").first.get_by_role("row", name="Peak torque").locator("td")
    shown = [float(text.split("\n")[0]) for text in torque.all_inner_texts()[1:]]
    assert shown == pytest.approx([s["metrics"]["peak_torque_nm"] for s in steps], rel=1e-3)


def test_a_stop_of_the_ladder_cuts_designs_off_by_keyboard(place, open_page):
    url, run = place
    page = open_page(f"{url}/#/run/{run}")
    settled(page, f"#/run/{run}")
    before = page.locator("tr[data-candidate]").count()
    stop = page.locator(".handle[data-metric=cost][data-end=high]")
    stop.focus()
    for _ in range(30):
        page.keyboard.press("ArrowDown")
    page.wait_for_function(
        "n => document.querySelectorAll('tr[data-candidate]').length < n", arg=before
    )
    assert float(stop.get_attribute("aria-valuenow")) < float(stop.get_attribute("aria-valuemax"))
    page.get_by_role("button", name="clear ranges").click()
    page.wait_for_function(
        "n => document.querySelectorAll('tr[data-candidate]').length === n", arg=before
    )


def test_outcomes_differ_in_shape_as_well_as_colour(place, open_page):
    url, run = place
    page = open_page(f"{url}/#/run/{run}")
    settled(page, f"#/run/{run}")
    paths = {}
    for shape in ("front", "feasible", "infeasible", "failed"):
        item = page.locator(f".legend [data-shape={shape}]")
        paths[shape] = item.locator("path").get_attribute("d")
        assert int(item.locator("b").inner_text().replace(",", "")) >= 0
    assert len(set(paths.values())) == 4
    counted = page.locator(".legend [data-shape] b").all_inner_texts()
    assert sum(int(text.replace(",", "")) for text in counted) == DESIGNS


def test_two_candidates_stand_side_by_side(place, open_page):
    url, run = place
    page = open_page(f"{url}/#/run/{run}")
    settled(page, f"#/run/{run}")
    boxes = page.get_by_role("checkbox", name="side by side")
    chosen = page.locator("tr[data-candidate]").evaluate_all("r => r.map(e => e.dataset.candidate)")
    for k in (0, 1):
        boxes.nth(k).check()
    page.get_by_role("link", name="Side by side").click()
    page.locator(".pair-table").first.wait_for()
    heads = page.locator(".pair h2").all_inner_texts()
    assert heads == [f"A: candidate {chosen[0]}", f"B: candidate {chosen[1]}"]
    assert page.locator(".pair-table").first.get_by_role("row").count() > 40


def test_without_motion_nothing_moves(place, open_page):
    url, _ = place
    page = open_page(url, reduced_motion="reduce")
    page.locator("table.runs tbody tr").first.wait_for()
    lasting = page.evaluate(
        "() => [...document.querySelectorAll('*')].filter((e) => "
        "parseFloat(getComputedStyle(e).transitionDuration) > 0).length"
    )
    assert lasting == 0


def test_a_press_is_not_lost_while_the_table_changes_under_it(place, open_page):
    url, run = place
    page = open_page(f"{url}/#/run/{run}")
    settled(page, f"#/run/{run}")
    box = page.get_by_role("checkbox", name="side by side").first
    box.scroll_into_view_if_needed()
    wanted = box.get_attribute("aria-label")
    box.hover()
    page.mouse.down()
    # As a design that has just come in would, a weight re-ranks everything.
    page.evaluate(
        """() => {
          const weight = document.querySelector("[data-weight=peak_torque]");
          weight.value = 5;
          weight.dispatchEvent(new Event("input"));
          return new Promise((done) => setTimeout(done, 200));
        }"""
    )
    page.mouse.up()
    page.wait_for_timeout(200)
    assert page.get_by_role("checkbox", name=wanted, exact=True).is_checked()


def test_the_front_as_a_table_is_that_on_the_page(place, open_page):
    url, run = place
    page = open_page(f"{url}/#/run/{run}")
    settled(page, f"#/run/{run}")
    slider = page.locator("[data-weight=peak_torque]")
    slider.focus()
    page.keyboard.press("End")
    drawn(page)
    shown = page.locator("tr[data-candidate]").evaluate_all("r => r.map(e => e.dataset.candidate)")
    with page.expect_download() as download:
        page.get_by_role("button", name="Front as CSV").click()
    lines = download.value.path().read_text("utf-8").splitlines()
    assert lines[0].startswith("candidate,rank,score")
    assert [line.split(",")[0] for line in lines[1:]][: len(shown)] == shown
