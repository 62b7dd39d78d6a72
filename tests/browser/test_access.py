"""The token: asked for, kept for the tab alone, never part of an address."""

import pytest

from optim.service.http.tokens import TokenFile
from optim.service.run_store import open_store
from tests.service_case import add_run, lenient_study, rows_of, served


@pytest.fixture(scope="module")
def guarded(tmp_path_factory):
    """A service that wants tokens, a run of anna's, and the tokens of anna and kim."""
    folder = tmp_path_factory.mktemp("access")
    with open_store(str(folder / "runs.sqlite"), is_new_allowed=True) as store:
        run = add_run(store, "anna", rows_of(lenient_study(), 4)).run_id
    tokens = TokenFile(folder / "tokens.json")
    anna, kim = (tokens.add(name) for name in ("anna", "kim"))
    with served(folder) as (_, url):
        yield url, run, anna, kim


def test_a_token_opens_the_page_and_stays_out_of_addresses(guarded, browser):
    url, run, anna, _ = guarded
    context = browser.new_context()
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(url)
    page.get_by_label("Token").fill(anna)
    page.get_by_role("button", name="Use token").click()
    page.get_by_role("link", name=run).click()
    page.locator("tr[data-candidate]").first.wait_for()
    page.wait_for_timeout(500)
    assert anna not in " ".join(asked) + page.url
    assert any(address.endswith("/events") for address in asked)
    assert anna in page.evaluate("Object.values(sessionStorage)")
    assert anna not in page.evaluate("Object.values(localStorage)")
    assert context.cookies() == []
    other = context.new_page()  # another tab knows nothing of it
    other.goto(url)
    other.get_by_role("dialog").wait_for()
    context.close()


def test_a_wrong_token_is_asked_for_again_and_others_runs_are_not_there(guarded, browser):
    url, run, _, kim = guarded
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{url}/#/run/{run}")
    page.get_by_label("Token").fill("not-a-token")
    page.keyboard.press("Enter")
    page.get_by_text("does not know this token").wait_for()
    page.get_by_label("Token").fill(kim)
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Not there").wait_for()
    context.close()
