"""`python -m app` as a process: where it listens, whom it refuses, how it starts and stops."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from app.shell import faults
from tests.browser.harness import ROOT, start_app
from tests.browser.said import faults_in
from tests.browser.test_strangers import ask


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


def test_its_pages_come_with_a_policy_that_keeps_requests_here(served):
    for name in ("127.0.0.1", "localhost"):
        code, headers, _ = ask(served, "/", host=f"{name}:{served.port}")
        assert code == 200
        assert "default-src 'self'" in headers["content-security-policy"]
        assert headers["referrer-policy"] == "no-referrer"


def test_the_first_line_says_that_the_address_is_the_key(served):
    said = "".join(served.said)
    assert f"Levelgaze is at {served.entry} (this computer only)." in said
    assert "This address is the key" in said


def test_a_busy_port_gives_a_clear_sentence_and_the_next_free_one():
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        taken = busy.getsockname()[1]
        with start_app(port=taken) as program:
            said = "".join(program.said)
            assert f"Port {taken} is in use by another program" in said
            assert f"127.0.0.1:{taken}" not in program.address
            assert ask(program, "/")[0] == 200


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_stops_cleanly(how):
    program = start_app()
    code = program.stop(how=how)
    said = "".join(program.said)
    assert "Traceback" not in said
    if how == signal.SIGINT:
        assert code == 0
        assert "Levelgaze has stopped." in said


def test_a_fault_is_seen_in_what_a_program_printed(capsys):
    try:
        raise ValueError("told")
    except ValueError as fault:
        faults.log(fault)
    logged = f"2026-01-01 12:00:00.000 {capsys.readouterr().err}"
    said = ["Levelgaze is at http://127.0.0.1:1/ by default at this port.\n", logged, "stopped\n"]
    assert faults_in(said) == [logged.strip()]
    assert faults_in(["Traceback (most recent call last):\n"]) != []
    assert faults_in([said[0], said[2]]) == []


def test_it_runs_from_any_folder(tmp_path):
    with start_app(cwd=tmp_path) as program:
        assert ask(program, "/")[0] == 200


@pytest.mark.parametrize("port", ["80", "0", "70000", "x"])
def test_a_wrong_port_is_refused_with_what_is_allowed(port):
    ran = subprocess.run(
        [sys.executable, "-m", "app", "--port", port],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert ran.returncode == 2
    assert "Allowed: 1024 to 65535" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_no_page_of_the_server_names_another_host(served):
    code, headers, text = ask(served, "/_stcore/host-config")
    assert code == 200
    assert headers["content-security-policy"]
    assert "http" not in text
