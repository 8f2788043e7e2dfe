"""The program where there is no network: `unshare -rn python -m tests.faults_alone LOG`.

A namespace of its own has no interface but a loopback that is down. This switches the loopback on,
makes sure that nothing else can be reached, starts the program, reads its pages in a browser, lets
pages of strangers try the live connection, and writes every address that the program itself tried
to reach to LOG.
"""

from __future__ import annotations

import errno
import fcntl
import os
import socket
import struct
import sys
import tempfile
from pathlib import Path

from app.shell.words import PAGES as TITLES
from tests.browser.harness import browser, start_app
from tests.browser.test_strangers import FOREIGN_ORIGINS, OWN_HOST, handshake
from tests.browser.walk import retype

PAGES = {name.replace("_", "-"): title for name, title in TITLES.items()}
"""Every page by its address, with its title."""

SIOCGIFFLAGS, SIOCSIFFLAGS, IFF_UP = 0x8913, 0x8914, 0x1
"""From linux/sockios.h and linux/if.h."""
WATCH = """
import os, sys

LOCAL = {None, "", "127.0.0.1", "localhost", "::1"}

def watch(event, values):
    if event in ("socket.connect", "socket.sendto"):
        host = values[1][0] if isinstance(values[1], tuple) else ""
    elif event in ("socket.getaddrinfo", "socket.gethostbyname"):
        host = values[0]
    else:
        return
    if host not in LOCAL:
        with open(os.environ["LEVELGAZE_TEST_LOG"], "a") as log:
            log.write(f"{event} {host!r}\\n")

sys.addaudithook(watch)
"""
"""Runs in every Python process of the program, before anything of it."""


def loopback_up() -> None:
    """Switch the loopback on, as `ip link set lo up` does."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as any_socket:
        name = b"lo".ljust(16, b"\0")
        found = fcntl.ioctl(any_socket, SIOCGIFFLAGS, name + bytes(24))
        (flags,) = struct.unpack_from("H", found, 16)
        asked = name + struct.pack("H", flags | IFF_UP) + bytes(22)
        fcntl.ioctl(any_socket, SIOCSIFFLAGS, asked)


def nothing_else() -> None:
    """Fail unless the loopback is the only interface and no address outside has a way to it."""
    lines = Path("/proc/net/dev").read_text(encoding="ascii").splitlines()[2:]
    names = [line.split(":")[0].strip() for line in lines]
    assert names == ["lo"], f"there are other interfaces than the loopback: {names}"
    with socket.socket() as probe:
        probe.settimeout(2)
        found = probe.connect_ex(("192.0.2.1", 80))  # an address for documentation, RFC 5737
    assert found == errno.ENETUNREACH, f"an outside address answered with {errno.errorcode[found]}"


def main(log: Path) -> None:
    """Start the program with a watch on its sockets, ask it for an answer, open every page."""
    loopback_up()
    nothing_else()
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "sitecustomize.py").write_text(WATCH, encoding="utf-8")
        os.environ |= {"PYTHONPATH": folder, "LEVELGAZE_TEST_LOG": str(log)}
        os.environ["LEVELGAZE_STORE"] = str(Path(folder, "cases.sqlite3"))
        with start_app() as program:
            with browser(apart=True) as page:
                page.enter(program, until="Interview")
                retype(page, "Age", "54")
                retype(page, "Add", "2.00")
                page.wait_for(lambda: "h comfortable" in page.text(".st-key-answer"), "an answer")
                print(page.text(".st-key-answer"))
                for name, words in PAGES.items():
                    page.enter(program, name, until=words)
                assert page.outside_requests() == []
            for origin in FOREIGN_ORIGINS:
                for known in (True, False):
                    assert handshake(program, host=OWN_HOST, origin=origin, known=known) == 403
    assert program.process.returncode == 0, "".join(program.said)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
