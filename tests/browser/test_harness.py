"""A context that is given on knows nothing of the test before."""

from __future__ import annotations

from tests.browser.harness import Browser, Served, browser, shared_chromium

LEAVE = """
localStorage.setItem('left', '1');
sessionStorage.setItem('left', '2');
document.cookie = 'left=3';
const done = arguments[0], asked = indexedDB.open('left');
asked.onsuccess = () => { asked.result.close(); window.open('about:blank'); done(true); };
"""
LOOK = """
const done = arguments[0], cookies = document.cookie ? [document.cookie] : [];
indexedDB.databases().then(kept => done([
  ...Object.keys(localStorage), ...Object.keys(sessionStorage), ...cookies,
  ...kept.map(one => one.name)]));
"""


def left(page: Browser, served: Served) -> list[str]:
    """What a page of the program finds, asked on the plain one that needs no key."""
    page.driver.get(f"http://127.0.0.1:{served.port}/")
    return list(page.driver.execute_async_script(LOOK))


def cookies(page: Browser, served: Served) -> int:
    """How many the program would be sent, the pass among them."""
    asked = {"urls": [f"{served.address}/"]}
    return sum(
        one["name"] != "left"
        for one in page.driver.execute_cdp_cmd("Network.getCookies", asked)["cookies"]
    )


def test_a_context_given_on_holds_nothing_of_the_test_before(served: Served) -> None:
    with browser() as page:
        context = page.context
        assert left(page, served) == []
        page.let_in(served.address)
        page.driver.execute_async_script(LEAVE)
        assert left(page, served) == ["left", "left", "left=3", "left"]
        assert cookies(page, served) == 1
    assert shared_chromium().driver.window_handles == [shared_chromium().first_window]
    with browser() as page:
        assert page.context == context
        assert left(page, served) == []
        assert cookies(page, served) == 0
