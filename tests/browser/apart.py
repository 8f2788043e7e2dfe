"""The real program in a home of its own, watched from inside: what it writes, whom it calls.

A `sitecustomize` in its path notes every file it opens for writing and every call to a network,
and can make a function fail with everything it was given in the fault's own words.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.browser.harness import ROOT, START_S, Served, free_port, way_in
from tests.waiting import until

PARTS = ("app", "engine", "reference_tables")
WATCHER = """
import json, os, sys, threading, time

_notes = os.open(os.environ["WATCHED_NOTES"], os.O_WRONLY | os.O_APPEND | os.O_CREAT)
_seams = os.environ["WATCHED_SEAMS"]
_failing_now = os.open(_seams + ".now", os.O_WRONLY | os.O_CREAT)
_CALLS = ("socket.connect", "socket.bind", "socket.sendto", "socket.sendmsg",
          "socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr",
          "urllib.Request", "http.client.connect", "subprocess.Popen", "os.system", "os.exec",
          "os.posix_spawn", "os.fork", "webbrowser.open", "smtplib.connect", "ftplib.connect")


def _heard(event, args):
    if event == "open":
        path, mode, flags = args
        if not (flags or 0) & (os.O_WRONLY | os.O_RDWR) and not set(str(mode or "")) & set("wax+"):
            return
        seen = path
    elif event in ("sqlite3.connect", "os.mkdir", "os.rename", "tempfile.mkstemp"):
        seen = args[0]
    elif event in _CALLS:
        seen = args[1:]
    else:
        return
    os.write(_notes, (json.dumps([event, str(seen)]) + "\\n").encode())


def _seam():
    changed = {}
    while True:
        time.sleep(0.05)
        try:
            with open(_seams) as file:
                wanted = file.read().split()
        except OSError:
            continue
        before = set(changed)
        for name in wanted:
            within, function = name.rsplit(".", 1)
            module = sys.modules.get(within)
            if name not in changed and module:
                changed[name] = module, function, getattr(module, function)
                setattr(module, function, _failing)
        for name in set(changed) - set(wanted):
            setattr(*changed.pop(name))
        if set(changed) != before:
            os.ftruncate(_failing_now, 0)
            os.pwrite(_failing_now, " ".join(changed).encode(), 0)


def _failing(*args, **more):
    raise RuntimeError(f"told: {args!r} {more!r}")


sys.addaudithook(_heard)
threading.Thread(target=_seam, daemon=True).start()
"""


@dataclass
class Apart:
    """A program with nothing around it but its own folders."""

    served: Served
    folder: Path

    @property
    def store(self) -> Path:
        """The one file that may hold what a person saved."""
        return self.folder / "data" / "levelgaze" / "cases.sqlite3"

    def notes(self) -> list[tuple[str, str]]:
        """What it opened for writing and whom it called, in order."""
        lines = (self.folder / "watched" / "notes").read_text(encoding="utf-8").splitlines()
        return [(event, seen) for event, seen in map(json.loads, lines)]

    def fail(self, *functions: str) -> None:
        """Let these functions fail from now on, and no others."""
        watched = self.folder / "watched"
        (watched / "wanted").write_text(" ".join(functions), encoding="utf-8")
        (watched / "wanted").replace(watched / "seams")
        assert until(lambda: self._failing() == set(functions)), functions

    def _failing(self) -> set[str]:
        said = self.folder / "watched" / "seams.now"
        return set(said.read_text(encoding="utf-8").split()) if said.exists() else set()

    def held_open(self) -> list[str]:
        """Files the process holds open, deleted ones too."""
        links = Path(f"/proc/{self.served.process.pid}/fd").iterdir()
        return [str(link.readlink()) for link in links if link.is_symlink()]

    def files(self) -> Iterator[tuple[Path, bytes]]:
        """Every file in its folders, with its bytes."""
        for path in sorted(self.folder.rglob("*")):
            if path.is_file():
                yield path, path.read_bytes()


@contextmanager
def apart(
    folder: Path,
    *arguments: str,
    settings: str = "",
    variables: Mapping[str, str] | None = None,
) -> Iterator[Apart]:
    """Start a copy of the program with a home, caches and a folder for passing files of its own.

    `settings` is the page library's file in the home and in the folder it is started from.
    """
    unfinished = shutil.ignore_patterns("*.pyc.*", "*.tmp.*")  # another process is writing these
    for name in PARTS:  # with what is compiled: compiling the search again takes six seconds
        shutil.copytree(ROOT / name, folder / "copy" / name, ignore=unfinished)
    for name in ("home", "cache", "config", "data", "passing", "watched"):
        (folder / name).mkdir()
    for place in ("home", "copy") if settings else ():
        (folder / place / ".streamlit").mkdir()
        (folder / place / ".streamlit" / "config.toml").write_text(settings, encoding="utf-8")
    (folder / "watched" / "sitecustomize.py").write_text(WATCHER, encoding="utf-8")
    with (folder / "said").open("w", encoding="utf-8") as said:
        process = subprocess.Popen(
            [sys.executable, "-m", "app", "--port", str(free_port()), *arguments],
            cwd=folder / "copy",
            stdout=said,
            stderr=subprocess.STDOUT,
            text=True,
            env=_surroundings(folder) | dict(variables or {}),
        )
    program = Apart(Served(process, ""), folder)
    try:
        program.served.entry = _entry(program)
        program.served.address = way_in(program.served.entry)
        yield program
    finally:
        program.served.stop()


def _surroundings(folder: Path) -> dict[str, str]:
    return {
        "PATH": os.environ["PATH"],
        "LANG": "C.UTF-8",
        "HOME": str(folder / "home"),
        "XDG_CACHE_HOME": str(folder / "cache"),
        "XDG_CONFIG_HOME": str(folder / "config"),
        "XDG_DATA_HOME": str(folder / "data"),
        "TMPDIR": str(folder / "passing"),
        "PYTHONPATH": str(folder / "watched"),
        "PYTHONUNBUFFERED": "1",
        "WATCHED_NOTES": str(folder / "watched" / "notes"),
        "WATCHED_SEAMS": str(folder / "watched" / "seams"),
    }


def _entry(program: Apart) -> str:
    file = program.folder / "said"

    def said() -> str:
        return file.read_text(encoding="utf-8")

    def listens() -> bool:
        return "(this computer only)" in said() or program.served.process.poll() is not None

    if not until(listens, seconds=START_S) or "Levelgaze is at " not in said():
        raise AssertionError(said())
    return said().split("Levelgaze is at ")[1].split(" ")[0]
