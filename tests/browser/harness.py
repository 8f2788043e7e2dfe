"""Start the real program and a real Chromium, and ask what a person would see.

Nothing is skipped: when Chromium, its driver or the server is missing, the test fails and says so.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlsplit

from selenium import webdriver
from selenium.common.exceptions import (
    StaleElementReferenceException,
    WebDriverException,
)
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By

from tests.as_read import as_read
from tests.browser.install import DRIVER, WANTED, browser_path
from tests.waiting import until

Found = TypeVar("Found")
ROOT = Path(__file__).resolve().parents[2]
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-search-engine-choice-screen",
    "--hide-scrollbars",
    "--force-prefers-reduced-motion",  # a fifth of a core goes into drawing what moves
    "--force-device-scale-factor=1",
]
START_S = 60.0
"""Longest wait for the server to print its address on a busy machine with two cores."""
WAIT_S = 60.0
"""Longest wait for a page to show what is expected, four of them sharing two cores."""
SCRIPT_S = 60.0
"""Longest wait of one script in a page; longer waits ask again."""
STILL = Path(__file__).with_name("still.js").read_text(encoding="utf-8")
"""Put into every page: whether it has anything left to do."""
LEFT_BY_PAGES = "cookies,local_storage,indexeddb,file_systems,service_workers,cache_storage"
COLOUR_RULES = ["color-contrast", "link-in-text-block"]
"""The rules of axe that look at colours."""
DESKTOP = (1280, 900)
PHONE = (360, 780)


def free_port() -> int:
    """A port nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


PASSES: dict[str, str] = {}
"""The cookie of each program started, by the address of its pages."""


def way_in(entry: str) -> str:
    """Exchange the key of a printed address as a browser does; return the address of the pages."""
    parts = urlsplit(entry)
    connection = http.client.HTTPConnection(str(parts.hostname), parts.port, timeout=START_S)
    try:
        connection.request("GET", f"{parts.path}?{parts.query}")
        answer = connection.getresponse()
        address = f"{parts.scheme}://{parts.netloc}{answer.headers['location']}".rstrip("/")
        PASSES[address] = answer.headers["set-cookie"].split(";")[0]
        return address
    finally:
        connection.close()


@dataclass
class Served:
    """A running `python -m app`, stopped where a `with` ends.

    `entry` is what it printed, `address` is where its pages are.
    """

    process: subprocess.Popen[str]
    address: str
    said: list[str] = field(default_factory=list)
    started_s: float = 0.0
    entry: str = ""
    store: Path | None = None

    def __enter__(self) -> Served:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    @property
    def port(self) -> int:
        """The port it serves."""
        return int(urlsplit(self.entry).port or 0)

    @property
    def cookie(self) -> str:
        """What a browser that came in sends with every request."""
        return PASSES[self.address]

    def page(self, name: str = "") -> str:
        """Return the address of a page."""
        return f"{self.address.rstrip('/')}/{name}"

    def stop(self, *, how: int = signal.SIGINT) -> int:
        """Ask it to stop as Ctrl-C does, and return its exit status."""
        if self.process.poll() is None:
            self.process.send_signal(how)
        try:
            rest, _ = self.process.communicate(timeout=30)
        except subprocess.TimeoutExpired:
            self.process.kill()
            rest, _ = self.process.communicate(timeout=10)
        self.said.append(rest or "")
        return int(self.process.returncode)


def start_app(
    *arguments: str,
    port: int | None = None,
    cwd: Path | None = None,
    store: Path | None = None,
    enter: bool = True,
) -> Served:
    """Start the program, wait for the line that names its address, and exchange the key.

    With `store`, cases are kept in that file.
    """
    more = {"PYTHONUNBUFFERED": "1"} | ({"LEVELGAZE_STORE": str(store)} if store else {})
    command = [sys.executable, "-m", "app", "--port", str(port or free_port()), *arguments]
    began = time.monotonic()
    process = subprocess.Popen(
        command,
        cwd=cwd or ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ | more,
    )
    said: list[str] = []
    assert process.stdout is not None
    while time.monotonic() - began < START_S:
        line = process.stdout.readline()
        said.append(line)
        if "http://127.0.0.1:" in line:
            entry = line.split("Levelgaze is at ")[1].split(" ")[0]
            took = time.monotonic() - began
            address = way_in(entry) if enter else ""
            return Served(process, address, said, took, entry, store)
        if not line and process.poll() is not None:
            break
    process.kill()
    raise AssertionError(f"the program did not start: {''.join(said)}")


class Chromium:
    """One process of Chromium, in which every test gets a context of its own.

    A context has cookies, storage and windows that no other context sees. One that a test is done
    with is emptied and given to the next: it knows nothing more of the test, but has the page
    library compiled, which takes half of the first page. The driver follows one window at a time;
    `front` is the page whose window that is.
    """

    def __init__(self) -> None:
        chromium, driver = browser_path(), shutil.which(DRIVER)
        assert chromium, WANTED
        assert driver, WANTED
        self.profile = tempfile.mkdtemp(prefix="levelgaze-browser-")
        options = webdriver.ChromeOptions()
        options.binary_location = chromium
        wide, high = DESKTOP
        for flag in [*FLAGS, f"--user-data-dir={self.profile}", f"--window-size={wide},{high}"]:
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"performance": "ALL"})
        options.enable_bidi = True
        self.driver = webdriver.Chrome(options=options, service=Service(driver))
        self.first_window = self.driver.current_window_handle
        self.pages: list[Browser] = []
        self.front: Browser | None = None
        self.empty: list[str] = []

    def stop(self) -> None:
        """End the process and remove its profile."""
        self.driver.quit()
        shutil.rmtree(self.profile, ignore_errors=True)

    def begin(self, page: Browser) -> str:
        """Return the window of a new context for a page; the page is seen and sought from now."""
        if not self.pages:
            self.driver.get_log("performance")  # what was asked after the last test was looked at
        context = self.empty.pop() if self.empty else self.driver.browser.create_user_context()
        self.pages.append(page)
        return str(context)

    def end(self, page: Browser) -> None:
        """Close the windows of a page, and forget its cookies and storage.

        The last window leaves its page first, which could else write once more what is forgotten.
        """
        last, windows = page.driver.current_window_handle, self.driver.browsing_context
        for one in windows.get_tree(max_depth=0):
            if one.user_context == page.context and one.context != last:
                windows.close(one.context)
        self.driver.get("about:blank")
        page.forget()
        windows.close(last)
        self.pages.remove(page)
        self.front = None
        self.driver.switch_to.window(self.first_window)
        self.empty.append(page.context)

    def listen(self) -> None:
        """Give every request noted since to the page whose window made it.

        One that no open window owns up to counts against every page: nothing is passed over.
        """
        for entry in self.driver.get_log("performance"):
            said = json.loads(entry["message"])
            message = said["message"]
            if message["method"] == "Network.requestWillBeSent":
                url = message["params"]["request"]["url"]
            elif message["method"] == "Network.webSocketCreated":
                url = message["params"]["url"]
            else:
                continue
            owners = [page for page in self.pages if said["webview"] in page.windows]
            for page in owners or self.pages:
                page.asked.append(url)


@cache
def shared_chromium() -> Chromium:
    """Return the one Chromium of this process of tests, started when it is first needed."""
    return Chromium()


@contextmanager
def browser(*, size: tuple[int, int] = DESKTOP, apart: bool = False) -> Iterator[Browser]:
    """A fresh context with a log of every request; with `apart`, in a Chromium of its own."""
    process = Chromium() if apart else shared_chromium()
    page = Browser(process, size)
    try:
        yield page
    finally:
        if apart:
            process.stop()
        else:
            process.end(page)


class Browser:
    """What the tests do with a page, in words."""

    def __init__(self, process: Chromium, size: tuple[int, int]) -> None:
        self.process = process
        self.asked: list[str] = []
        self.home = ""
        self.windows: set[str] = set()
        self.context = process.begin(self)
        self._size = size
        self._window = ""
        self.new_window()

    @property
    def driver(self) -> webdriver.Chrome:
        """The driver, at the window of this page that it was at last."""
        process = self.process
        if process.front is not self:
            if process.front is not None:
                process.front._window = process.driver.current_window_handle
            process.driver.switch_to.window(self._window)
            process.front = self
        return process.driver

    def new_window(self, kind: str = "window") -> None:
        """Open another window (or tab) in the same context and go to it."""
        open_one = self.process.driver.browsing_context.create
        self._window = str(open_one(type=kind, user_context=self.context))
        self.windows.add(self._window)
        if self.process.front is self:
            self.process.driver.switch_to.window(self._window)
        tell = self.driver.execute_cdp_cmd
        tell("Page.addScriptToEvaluateOnNewDocument", {"source": STILL})
        tell("Emulation.setFocusEmulationEnabled", {"enabled": True})
        self.driver.set_script_timeout(SCRIPT_S)
        self.resize(self._size)

    def resize(self, size: tuple[int, int]) -> None:
        """Set the size of the page itself; a narrow one behaves as a phone."""
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {
                "width": size[0],
                "height": size[1],
                "deviceScaleFactor": 1,
                "mobile": size[0] < 600,
            },
        )

    def downloads_to(self, folder: Path) -> None:
        """Let this context save what it is given in a folder."""
        self._downloads("allow", downloadPath=str(folder))

    def _downloads(self, behavior: str, **more: str) -> None:
        said = self.driver.execute_cdp_cmd("Target.getTargetInfo", {})
        context = said["targetInfo"]["browserContextId"]
        self.driver.execute_cdp_cmd(
            "Browser.setDownloadBehavior",
            {"behavior": behavior, "browserContextId": context, **more},
        )

    def forget(self) -> None:
        """Empty the context of what its pages may have left, but for the files of the library."""
        tell = self.driver.execute_cdp_cmd
        tell("Network.clearBrowserCookies", {})
        for home in {*PASSES, "file://"}:
            parts = urlsplit(home)
            origin = f"{parts.scheme}://{parts.netloc}"
            tell("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": LEFT_BY_PAGES})
        self._downloads("default")

    def let_in(self, address: str) -> None:
        """Give the browser the pass of the program that serves an address, as if it had the key."""
        for home, cookie in PASSES.items():
            if address.startswith(home):
                self.home = home
                name, value = cookie.split("=", 1)
                kept = {"name": name, "value": value, "url": home, "path": urlsplit(home).path}
                kept |= {"httpOnly": True, "sameSite": "Strict"}
                self.driver.execute_cdp_cmd("Network.setCookie", kept)

    def enter(self, served: Served, name: str = "", *, until: str | None = None) -> None:
        """Come to a page of the program as somebody who was not there before."""
        self.open(served.page(name), until=until)

    def open(self, address: str, *, until: str | None = None) -> None:
        """Go to an address and wait for its page to be drawn."""
        self.let_in(address)
        self.driver.get(address)
        self._wait_in_page("lgDrawn()", "a page")
        if until:
            self.wait_for_text(until)
        self.settle()

    def go(self, name: str, *, until: str | None = None) -> None:
        """Open another page of the same draft, at an address with nothing else in it."""
        draft = re.search(r"draft=[\w-]+", self.place)
        said = f"{'&' if '?' in name else '?'}{draft[0]}" if draft else ""
        self.open(f"{self.home}/{name}{said}", until=until)

    @property
    def place(self) -> str:
        """What the address says after the program's own part of it, which is random."""
        return str(self.driver.current_url).removeprefix(self.home)

    def has(self, test_id: str) -> bool:
        """True when an element with this test id is on the page."""
        return bool(self.driver.find_elements(By.CSS_SELECTOR, f"[data-testid='{test_id}']"))

    def idle(self) -> bool:
        """True when the page is connected and its script is not running."""
        state = self.driver.execute_script(
            "const a = document.querySelector('[data-testid=stApp]');"
            "return a ? [a.dataset.testScriptState, a.dataset.testConnectionState] : null"
        )
        return state == ["notRunning", "CONNECTED"]

    def settle(self, *, seconds: float = WAIT_S) -> None:
        """Wait until a change just made has been answered: nothing is left for the page to do."""
        self._wait_in_page("lgStill(3)", "a page at rest", seconds=seconds)

    def _wait_in_page(self, promise: str, what: str, *given: str, seconds: float = WAIT_S) -> None:
        """Wait for what a page promises; a page that goes meanwhile is asked again."""
        script = (
            "const done = arguments[arguments.length - 1];"
            f"Promise.race([window.{promise}, new Promise(late => setTimeout(late, 3000))])"
            ".then(kept => done(Boolean(kept)));"
        )
        self.wait_for(
            lambda: bool(self.driver.execute_async_script(script, *given)), what, seconds=seconds
        )

    def text(self, selector: str = "[data-testid='stMain']") -> str:
        """The words a person can see."""
        script = "const e = document.querySelector(arguments[0]); return e ? e.innerText : ''"
        return as_read(str(self.driver.execute_script(script, selector)))

    def wait_for(
        self, condition: Callable[[], bool], what: str, *, seconds: float = WAIT_S
    ) -> None:
        """Wait for a condition; the failure shows what the page said instead."""

        def met() -> bool:
            try:
                return condition()
            except WebDriverException:
                return False

        if not until(met, seconds=seconds):
            raise AssertionError(
                f"waited {seconds} s for {what}; the page says:\n{self.text()}\n"
                f"{self.driver.execute_script('return window.lgBusy?.()')}"
            )

    def again(self, act: Callable[[], Found], what: str) -> Found:
        """Do something to what is drawn, again where a redraw took its element away meanwhile.

        `act` finds its elements itself. Any other failure is that of the test.
        """
        done: list[Found] = []

        def tried() -> bool:
            with suppress(StaleElementReferenceException):
                done.append(act())
            return bool(done)

        assert until(tried), f"{what} is drawn anew all the time; the page says:\n{self.text()}"
        return done[0]

    def wait_for_text(
        self, words: str, *, selector: str = "[data-testid='stMain']", seconds: float = WAIT_S
    ) -> None:
        """Wait until these words can be read."""
        promise = "lgWords(arguments[0], arguments[1])"
        self._wait_in_page(promise, f"the words {words!r}", selector, words, seconds=seconds)

    def requests(self) -> list[str]:
        """Every address its windows asked for since they were opened, refused ones included."""
        self.process.listen()
        return list(self.asked)

    def outside_requests(self) -> list[str]:
        """Requests to anything but this computer."""
        return [url for url in self.requests() if not is_local(url)]

    def axe(self, *, colours: bool = False) -> list[dict[str, Any]]:
        """The violations axe finds, with the elements they concern; or only those of colours.

        All other rules find the same in every theme.
        """
        if not self.driver.execute_script("return Boolean(window.axe)"):
            script = resources.files("axe_core_python").joinpath("axe.min.js").read_text("utf-8")
            self.driver.execute_script(script)
        only = {"runOnly": {"type": "rule", "values": COLOUR_RULES}} if colours else {}
        found = self.driver.execute_async_script(
            "const [asked, done] = arguments;"
            "axe.run(document, asked).then(r => done(r.violations),"
            "  e => done([{id: String(e)}]))",
            {"resultTypes": ["violations"], "selectors": False, **only},
        )
        return [
            {
                "id": rule["id"],
                "impact": rule.get("impact"),
                "nodes": [node["html"][:200] for node in rule.get("nodes", [])],
            }
            for rule in found
        ]

    def focused(self) -> str:
        """The accessible name of the element with the keyboard focus, after its group's."""

        def name() -> str:
            element = self.driver.switch_to.active_element
            group = self.driver.execute_script(
                "const g = arguments[0].closest('[role=radiogroup]');"
                "return g ? g.getAttribute('aria-label') + ': ' : ''",
                element,
            )
            return f"{group}{element.accessible_name}"

        return self.again(name, "what has the focus")


def is_local(url: str) -> bool:
    """True for an address that does not leave this computer."""
    parts = urlsplit(url)
    on_the_wire = parts.scheme not in {"data", "blob", "about", "chrome", "devtools"}
    return not on_the_wire or parts.hostname in {"127.0.0.1", "localhost"}
