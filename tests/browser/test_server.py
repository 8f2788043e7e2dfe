"""`python -m app` as a process: where it listens, whom it refuses, how it starts and stops."""

from __future__ import annotations

import http.client
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from tests.browser.harness import ROOT, Served, free_port, start_app


def status(port: int, *, host: str, path: str = "/") -> tuple[int, dict[str, str]]:
    """Ask the server under a name and return its answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        connection.request("GET", path, headers={"Host": host})
        answer = connection.getresponse()
        answer.read()
        return answer.status, {name.lower(): value for name, value in answer.getheaders()}
    finally:
        connection.close()


def port_of(served: Served) -> int:
    """The port in the printed address."""
    return int(served.address.rsplit(":", 1)[1])


def listening_addresses(process: int) -> set[str]:
    """Local addresses on which a process listens, from the kernel's own table (IPv4 and IPv6)."""
    sockets = {
        link.readlink().name.removeprefix("socket:[").removesuffix("]")
        for link in Path(f"/proc/{process}/fd").iterdir()
        if link.is_symlink() and "socket:[" in str(link.readlink())
    }
    found = set()
    for table in ("tcp", "tcp6"):
        for row in Path(f"/proc/{process}/net/{table}").read_text().splitlines()[1:]:
            cells = row.split()
            if cells[3] == "0A" and cells[9] in sockets:
                found.add(cells[1].split(":")[0])
    return found


def test_it_listens_on_this_computer_only(served):
    # 0100007F is 127.0.0.1 in the byte order of the table.
    assert listening_addresses(served.process.pid) == {"0100007F"}


@pytest.mark.parametrize("path", ["/", "/_stcore/health", "/_stcore/host-config", "/media/x"])
@pytest.mark.parametrize("host", ["example.invalid", "127.0.0.1.example.invalid", "[::1]"])
def test_a_wrong_host_is_refused_on_every_path(served, path, host):
    assert status(port_of(served), host=host, path=path)[0] == 400


def test_the_right_hosts_are_served_with_a_policy_that_keeps_requests_here(served):
    for name in ("127.0.0.1", "localhost"):
        code, headers = status(port_of(served), host=f"{name}:{port_of(served)}")
        assert code == 200
        assert "default-src 'self'" in headers["content-security-policy"]
        assert headers["referrer-policy"] == "no-referrer"


def test_a_busy_port_gives_a_clear_sentence_and_the_next_free_one():
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        taken = busy.getsockname()[1]
        program = start_app(port=taken)
        try:
            said = "".join(program.said)
            assert f"Port {taken} is in use by another program" in said
            assert f"127.0.0.1:{taken}" not in program.address
            assert status(port_of(program), host="127.0.0.1")[0] == 200
        finally:
            program.stop()


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_stops_cleanly(how):
    program = start_app()
    code = program.stop(how=how)
    said = "".join(program.said)
    assert "Traceback" not in said
    if how == signal.SIGINT:
        assert code == 0
        assert "Levelgaze has stopped." in said


def test_it_runs_from_any_folder(tmp_path):
    program = start_app(cwd=tmp_path)
    try:
        assert status(port_of(program), host="127.0.0.1")[0] == 200
    finally:
        program.stop()


@pytest.mark.parametrize("port", ["80", "0", "70000", "x"])
def test_a_wrong_port_is_refused_with_what_is_allowed(port):
    ran = subprocess.run(
        [sys.executable, "-m", "app", "--port", port],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert ran.returncode == 2
    assert "allowed: 1024 to 65535" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_no_page_of_the_server_names_another_host(served):
    port = free_port()
    assert port != port_of(served)
    code, headers = status(port_of(served), host="127.0.0.1", path="/_stcore/host-config")
    assert code == 200
    assert headers["content-security-policy"]
