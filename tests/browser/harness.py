"""Start the real program and a real Chromium, and ask what a person would see.

Nothing is skipped: when Chromium, its driver or the server is missing, the test fails and says so.
"""

from __future__ import annotations

import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By

from tests.browser.install import PROGRAMS

ROOT = Path(__file__).resolve().parents[2]
CHROMIUM, DRIVER = (shutil.which(program) or program for program in PROGRAMS)
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
    "--force-device-scale-factor=1",
]
START_S = 60.0
"""Longest wait for the server to print its address on a busy machine with two cores."""
WAIT_S = 20.0
"""Longest wait for a page to show what is expected."""
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
    """A running `python -m app`; `entry` is what it printed, `address` is where its pages are."""

    process: subprocess.Popen[str]
    address: str
    said: list[str] = field(default_factory=list)
    started_s: float = 0.0
    entry: str = ""

    @property
    def port(self) -> int:
        """The port it serves."""
        return int(urlsplit(self.entry).port or 0)

    @property
    def cookie(self) -> str:
        """What a browser that came in sends with every request."""
        return PASSES[self.address]

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
    *arguments: str, port: int | None = None, cwd: Path | None = None, enter: bool = True
) -> Served:
    """Start the program, wait for the line that names its address, and exchange the key."""
    command = [sys.executable, "-m", "app", "--port", str(port or free_port()), *arguments]
    began = time.monotonic()
    process = subprocess.Popen(
        command,
        cwd=cwd or ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )
    said: list[str] = []
    assert process.stdout is not None
    while time.monotonic() - began < START_S:
        line = process.stdout.readline()
        said.append(line)
        if "http://127.0.0.1:" in line:
            entry = line.split("Levelgaze is at ")[1].split(" ")[0]
            took = time.monotonic() - began
            return Served(process, way_in(entry) if enter else "", said, took, entry)
        if not line and process.poll() is not None:
            break
    process.kill()
    raise AssertionError(f"the program did not start: {''.join(said)}")


@contextmanager
def browser(*, size: tuple[int, int] = DESKTOP, dark: bool = False) -> Iterator[Browser]:
    """A fresh Chromium with its own profile and a log of every request."""
    for program in (CHROMIUM, DRIVER):
        assert Path(program).exists(), f"{program} is missing: install chromium and chromium-driver"
    profile = tempfile.mkdtemp(prefix="levelgaze-browser-")
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for flag in [*FLAGS, f"--user-data-dir={profile}", f"--window-size={size[0]},{size[1]}"]:
        options.add_argument(flag)
    if dark:
        options.add_argument("--force-dark-mode")
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    try:
        page = Browser(driver)
        page.resize(size)
        if dark:
            page.dark()
        yield page
    finally:
        driver.quit()
        shutil.rmtree(profile, ignore_errors=True)


class Browser:
    """What the tests do with a page, in words."""

    def __init__(self, driver: webdriver.Chrome) -> None:
        self.driver = driver
        self._requests: list[str] = []

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

    def dark(self) -> None:
        """Ask for the dark theme as the operating system would."""
        self.driver.execute_cdp_cmd(
            "Emulation.setEmulatedMedia",
            {"features": [{"name": "prefers-color-scheme", "value": "dark"}]},
        )

    def let_in(self, address: str) -> None:
        """Give the browser the pass of the program that serves an address, as if it had the key."""
        for home, cookie in PASSES.items():
            if address.startswith(home):
                name, value = cookie.split("=", 1)
                kept = {"name": name, "value": value, "url": home, "path": urlsplit(home).path}
                kept |= {"httpOnly": True, "sameSite": "Strict"}
                self.driver.execute_cdp_cmd("Network.setCookie", kept)

    def open(self, address: str, *, until: str | None = None) -> None:
        """Go to an address and wait for its page to be drawn."""
        self.let_in(address)
        self.driver.get(address)
        self.wait_for(lambda: self.idle() and self.has("stMainBlockContainer"), "a page")
        if until:
            self.wait_for_text(until)
        self.settle()

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

    def settle(self) -> None:
        """Wait until a change just made has been answered."""
        time.sleep(0.15)
        self.wait_for(self.idle, "an idle page")
        time.sleep(0.05)
        self.wait_for(self.idle, "an idle page")

    def text(self, selector: str = "[data-testid='stMain']") -> str:
        """The words a person can see."""
        return str(
            self.driver.execute_script(
                "const e = document.querySelector(arguments[0]); return e ? e.innerText : ''",
                selector,
            )
        )

    def wait_for(
        self, condition: Callable[[], bool], what: str, *, seconds: float = WAIT_S
    ) -> None:
        """Wait for a condition; the failure shows what the page said instead."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                if condition():
                    return
            except WebDriverException:
                pass
            time.sleep(0.03)
        raise AssertionError(f"waited {seconds} s for {what}; the page says:\n{self.text()}")

    def wait_for_text(self, words: str, *, selector: str = "[data-testid='stMain']") -> None:
        """Wait until these words can be read."""
        self.wait_for(lambda: words in self.text(selector), f"the words {words!r}")

    def screenshot(self, path: Path, *, whole: bool = False) -> None:
        """Save what the window shows, or the whole page."""
        if whole:
            width = self.driver.execute_script("return innerWidth")
            height = self.driver.execute_script(
                "return document.querySelector('[data-testid=stMain]').scrollHeight + 60"
            )
            old = self.driver.execute_script("return innerHeight")
            self.resize((width, height))
            time.sleep(0.4)
            self.driver.save_screenshot(str(path))
            self.resize((width, old))
        else:
            self.driver.save_screenshot(str(path))

    def requests(self) -> list[str]:
        """Every address the browser asked for since it started, refused ones included."""
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                self._requests.append(message["params"]["request"]["url"])
            elif message["method"] == "Network.webSocketCreated":
                self._requests.append(message["params"]["url"])
        return list(self._requests)

    def outside_requests(self) -> list[str]:
        """Requests to anything but this computer."""
        return [url for url in self.requests() if not is_local(url)]

    def axe(self, *, context: str = "document") -> list[dict[str, Any]]:
        """The violations axe finds, with the elements they concern."""
        script = resources.files("axe_core_python").joinpath("axe.min.js").read_text("utf-8")
        self.driver.execute_script(script)
        found = self.driver.execute_async_script(
            "const done = arguments[arguments.length - 1];"
            f"axe.run({context}).then(r => done(r.violations), e => done([{{id: String(e)}}]))"
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
        element = self.driver.switch_to.active_element
        group = self.driver.execute_script(
            "const g = arguments[0].closest('[role=radiogroup]');"
            "return g ? g.getAttribute('aria-label') + ': ' : ''",
            element,
        )
        return f"{group}{element.accessible_name}"


def is_local(url: str) -> bool:
    """True for an address that does not leave this computer."""
    parts = urlsplit(url)
    on_the_wire = parts.scheme not in {"data", "blob", "about", "chrome", "devtools"}
    return not on_the_wire or parts.hostname in {"127.0.0.1", "localhost"}
