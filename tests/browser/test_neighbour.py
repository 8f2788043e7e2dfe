"""A page of another web server of this computer, in the browser that has the pass.

A browser takes 127.0.0.1 on every port for one site: it sends a strict cookie there, and keeps one
set of cookies for all ports. The neighbour here even knows the name of the folder.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

import pytest

from tests.browser.harness import Browser, Served

PAGE = "<!doctype html><meta charset=utf-8><title>neighbour</title><p>A page of another server."


class Neighbour(ThreadingHTTPServer):
    """A web server on another port; it notes every request with its headers."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, dict[str, str]]] = []
        super().__init__(("127.0.0.1", 0), Answer)

    @property
    def address(self) -> str:
        """Return where it is."""
        return f"http://127.0.0.1:{self.server_port}"


class Answer(BaseHTTPRequestHandler):
    """The same page for everything."""

    server: Neighbour

    def do_GET(self) -> None:
        """Note the request and send the page."""
        told = {name.lower(): value for name, value in self.headers.items()}
        self.server.heard.append((self.path, told))
        content = PAGE.encode()
        self.send_response(200)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@pytest.fixture
def neighbour() -> Iterator[Neighbour]:
    """The other server, while a test runs."""
    with Neighbour() as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield server
        server.shutdown()
        thread.join()


TRY = """
const [home, done] = [arguments[0], arguments[arguments.length - 1]];
const seen = {};
const late = made => Promise.race([made, new Promise(end => setTimeout(end, 15000, 'silent'))]);
const got = (name, how, more) => late(fetch(home + how, more).then(
    async answer => `${answer.type} ${answer.status} ${(await answer.text()).slice(0, 40)}`,
    () => 'refused')).then(what => { seen[name] = what; });
const loaded = (name, tag, from) => late(new Promise(end => {
    const one = document.createElement(tag);
    one.onload = () => end('loaded');
    one.onerror = () => end('refused');
    one[tag === 'link' ? 'href' : 'src'] = from;
    if (tag === 'link') one.rel = 'stylesheet';
    document.body.append(one);
    const inside = () => {
        try { return one.contentDocument.body.innerText; } catch { return null; }
    };
    if (tag === 'iframe') one.onload = () => end(`framed ${inside()}`);
})).then(what => { seen[name] = what; });
const live = (name, address) => late(new Promise(end => {
    const one = new WebSocket(address, ['streamlit']);
    one.onopen = () => end('open');
    one.onerror = one.onclose = () => end('refused');
})).then(what => { seen[name] = what; });
const alive = home.replace('http:', 'ws:') + '/_stcore/stream';
Promise.all([
    got('read', '/', {credentials: 'include'}),
    got('read health', '/_stcore/health', {credentials: 'include'}),
    got('read unseen', '/_stcore/health', {credentials: 'include', mode: 'no-cors'}),
    got('pushed', '/_stcore/upload_file/a/b', {credentials: 'include', method: 'PUT', body: 'x'}),
    got('pushed unseen', '/_stcore/upload_file/a/b',
        {credentials: 'include', mode: 'no-cors', method: 'POST', body: 'x'}),
    loaded('picture', 'img', home + '/favicon.png'),
    loaded('script', 'script', home + '/_stcore/host-config'),
    loaded('style', 'link', home + '/_stcore/health'),
    loaded('frame', 'iframe', home + '/cases'),
    live('live', alive),
    live('live by name', alive.replace('127.0.0.1', 'localhost')),
]).then(() => done(JSON.stringify(seen)));
"""
HELD = """
const [home, done] = [arguments[0], arguments[arguments.length - 1]];
const opened = window.open(home + '/cases');
const end = performance.now() + 10000;
const look = () => {
    let read = null;
    try { read = opened.closed ? 'no window of ours' : opened.document.body.innerText; }
    catch { read = null; }
    if (read === 'no window of ours' || performance.now() > end) return done(read);
    requestAnimationFrame(look);
};
look();
"""


def test_a_neighbour_reads_nothing_and_is_sent_nothing(
    served: Served, desktop: Browser, neighbour: Neighbour
) -> None:
    desktop.enter(served, "cases", until="Kept cases")
    desktop.driver.get(neighbour.address)
    seen = json.loads(desktop.driver.execute_async_script(TRY, served.address))
    assert len(seen) == 11
    assert seen.pop("frame") == "framed null", "the browser's own page of a refusal"
    assert set(seen.values()) == {"refused"}, seen
    assert neighbour.heard
    assert not any("cookie" in told for _, told in neighbour.heard)
    desktop.driver.get(neighbour.address + urlsplit(served.address).path)
    assert any(served.cookie in told.get("cookie", "") for _, told in neighbour.heard), (
        "for a browser all ports are one: nothing but the name of the folder keeps the pass here"
    )


def test_a_window_that_a_neighbour_opens_is_out_of_its_reach(
    served: Served, desktop: Browser, neighbour: Neighbour
) -> None:
    desktop.enter(served, "cases", until="Kept cases")
    desktop.driver.get(neighbour.address)
    assert desktop.driver.execute_async_script(HELD, served.address) == "no window of ours"


def test_a_link_from_here_to_a_neighbour_carries_no_address(
    served: Served, desktop: Browser, neighbour: Neighbour
) -> None:
    desktop.enter(served, "cases", until="Kept cases")
    desktop.driver.execute_script("location.href = arguments[0]", neighbour.address)
    desktop.wait_for(lambda: desktop.driver.title == "neighbour", "the neighbour's page")
    folder = served.address.rsplit("/", 1)[1]
    for path, told in neighbour.heard:
        assert folder not in path + json.dumps(told)
        assert told.get("referer", neighbour.address).startswith(neighbour.address)
