"""Whom the program lets in: what is asked of it by strangers, other pages and other programs.

Every refusal is asked for with and without the pass where that makes a difference, so that no
refusal hides behind another.
"""

from __future__ import annotations

import http.client
from pathlib import Path

import pytest

from app.shell import words
from tests.browser.apart import apart
from tests.browser.harness import Served

OWN_HOST, OWN_ORIGIN = "127.0.0.1:{port}", "http://127.0.0.1:{port}"
LOCAL_HOST, LOCAL_ORIGIN = "localhost:{port}", "http://localhost:{port}"
PATHS = (
    "/",
    "/cases",
    "/_stcore/health",
    "/_stcore/host-config",
    "/_stcore/metrics",
    "/_stcore/upload_file/a/b",
    "/_stcore/stream",
    "/media/0123456789abcdef.json",
    "/favicon.png",
    "/openapi.json",
)
METHODS = ("GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS")
UPGRADE = {
    "Upgrade": "websocket",
    "Connection": "Upgrade",
    "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Key": "MDEyMzQ1Njc4OWFiY2RlZg==",
}
VISIT = {"Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}


def ask(
    served: Served,
    path: str,
    headers: dict[str, str] | None = None,
    *,
    method: str = "GET",
    host: str = OWN_HOST,
    known: bool = True,
    folder: bool = True,
) -> tuple[int, dict[str, str], str]:
    """Ask the program; return status, headers and text. `known` brings the pass."""
    port, home = served.port, served.address.split(f":{served.port}")[1]
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    sent = {"Host": host} | ({"Cookie": served.cookie} if known else {}) | (headers or {})
    try:
        connection.request(
            method,
            f"{home if folder else ''}{path}",
            headers={name: value.format(port=port) for name, value in sent.items()},
        )
        answer = connection.getresponse()
        text = "" if answer.status == 101 else answer.read().decode(errors="replace")
        return answer.status, {name.lower(): value for name, value in answer.getheaders()}, text
    finally:
        connection.close()


def handshake(served: Served, *, host: str, origin: str | None, known: bool = True) -> int:
    """Ask for the live connection as a browser would, and return the answer's status."""
    headers = UPGRADE | ({} if origin is None else {"Origin": origin})
    return ask(served, "/_stcore/stream", headers, host=host, known=known)[0]


FOREIGN_ORIGINS = (
    "http://example.invalid",
    "http://127.0.0.1.example.invalid:{port}",
    "http://127.0.0.1:9999",
    "http://127.0.0.1",
    "http://localhost:3000",
    "http://0.0.0.0:{port}",
    "http://[::1]:{port}",
    "https://127.0.0.1:{port}",
    "http://127.0.0.1:{port}.",
    "http://203.0.113.66",
    "file://",
    "null",
    "",
)


@pytest.mark.parametrize(("host", "origin"), [(OWN_HOST, OWN_ORIGIN), (LOCAL_HOST, LOCAL_ORIGIN)])
def test_the_live_connection_opens_for_its_own_pages_with_the_pass(
    served: Served, host: str, origin: str
) -> None:
    assert handshake(served, host=host, origin=origin) == 101
    assert handshake(served, host=host, origin=origin, known=False) == 403
    assert handshake(served, host=host, origin=None) == 403


@pytest.mark.parametrize("origin", [*FOREIGN_ORIGINS, LOCAL_ORIGIN])
def test_pages_of_others_get_nothing_even_with_the_pass(served: Served, origin: str) -> None:
    assert handshake(served, host=OWN_HOST, origin=origin) == 403
    for path in PATHS:
        assert ask(served, path, {"Origin": origin})[0] == 403


@pytest.mark.parametrize(
    "host",
    ["example.invalid", "example.invalid:{port}", "[::1]:{port}", "127.0.0.1", "127.0.0.1:1", ""],
)
def test_another_name_of_this_computer_gets_nothing_even_with_the_pass(
    served: Served, host: str
) -> None:
    assert handshake(served, host=host, origin=OWN_ORIGIN) == 403
    for path in PATHS:
        assert ask(served, path, host=host)[0] == 403


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("folder", [True, False])
def test_without_the_pass_every_path_says_how_to_get_in(
    served: Served, method: str, folder: bool
) -> None:
    for path in PATHS:
        for headers in ({}, {"Origin": OWN_ORIGIN}, {"Cookie": f"lg_{served.port}=AAAA"}):
            status, told, text = ask(
                served, path, headers, method=method, known=False, folder=folder
            )
            assert status == 403
            assert text == ("" if method == "HEAD" else f"{words.NO_KEY}\n")
            assert told["cache-control"] == "no-store"
            assert "set-cookie" not in told


def test_the_pass_opens_its_folder_only(served: Served) -> None:
    for path in PATHS:
        assert ask(served, path, folder=False)[0] == 403
        assert ask(served, f"/AAAAAAAAAAAAAAAA{path}", folder=False)[0] == 403
    assert ask(served, "/")[0] == 200


def test_the_key_is_exchanged_for_a_pass_and_leaves_the_address(served: Served) -> None:
    key = served.entry.split("?key=")[1]
    status, told, _ = ask(served, f"/?key={key}", known=False, folder=False)
    assert status == 303
    home = served.address.split(f":{served.port}")[1]
    assert told["location"] == f"{home}/"
    name, *rest = told["set-cookie"].split("; ")
    assert name == served.cookie
    assert name.startswith(f"lg_{served.port}=")
    assert rest == [f"Path={home}", "HttpOnly", "SameSite=Strict"]
    assert len({key, name.split("=")[1], home.strip("/")}) == 3
    assert len(key) >= 22  # 6 bits a letter: at least 128


def test_a_wrong_key_opens_nothing(served: Served) -> None:
    key = served.entry.split("?key=")[1]
    wrong = ["", "A", key[:-1], f"{key}A", key.swapcase(), f"{key}&key={key}", "%FF", "\u00e9"]
    for one in wrong:
        quoted = one.replace("\u00e9", "%C3%A9")
        status, told, text = ask(served, f"/?key={quoted}", known=False, folder=False)
        assert (status, text) == (403, f"{words.NO_KEY}\n"), one
        assert "set-cookie" not in told
    for method in ("POST", "PUT", "HEAD"):
        right = ask(served, f"/?key={key}", method=method, known=False, folder=False)
        assert right[0] == 403
    assert ask(served, f"/cases?key={key}", known=False)[0] == 403
    for origin in FOREIGN_ORIGINS:
        head = {"Origin": origin}
        assert ask(served, f"/?key={key}", head, known=False, folder=False)[0] == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_what_a_page_elsewhere_loads_is_refused(served: Served, site: str) -> None:
    """A picture, a script or a frame carries no origin, but the browser says where it is asked."""
    for dest in ("image", "script", "iframe", "empty"):
        head = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": dest}
        assert ask(served, "/", head)[0] == 403
    head = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}
    assert ask(served, "/", head)[0] == 403


def test_a_visit_led_here_is_asked_to_come_again_and_shown_nothing(served: Served) -> None:
    """A browser holds the pass back when a file or another page led to the address."""
    led = VISIT | {"Sec-Fetch-Site": "cross-site"}
    status, _, text = ask(served, "/cases", led, known=False)
    assert status == 200
    assert "location.replace(location.href)" in text
    assert len(text) < 200
    assert ask(served, "/cases", led, known=False, folder=False)[0] == 403
    assert ask(served, "/cases", led, method="POST", known=False)[0] == 403
    assert ask(served, "/cases", VISIT | {"Sec-Fetch-Site": "none"}, known=False)[0] == 403


@pytest.mark.parametrize("method", ["PUT", "DELETE"])
def test_a_file_cannot_be_pushed_without_a_token_of_the_page(served: Served, method: str) -> None:
    head = {"Origin": OWN_ORIGIN}
    status, _, text = ask(served, "/_stcore/upload_file/a/b", head, method=method)
    assert status == 403
    assert words.NO_KEY not in text


def test_redirects_stay_in_the_folder(served: Served) -> None:
    home = served.address.split(f":{served.port}")[1]
    status, told, _ = ask(served, "/desk/")
    assert status in (301, 303, 307, 308)
    assert told["location"].startswith(f"{home}/desk")
    assert ask(served, "?draft=a")[1]["location"] == f"{home}/?draft=a"


LOOKED_UP = "streamlit.net_util._make_blocking_http_get"
"""Where the page library asks a server on the internet for the address of this computer."""


def test_no_stranger_makes_the_program_call_out(tmp_path: Path) -> None:
    """Watched from inside, and failing if it ever comes to that."""
    with apart(tmp_path) as program:
        program.fail(LOOKED_UP)
        before = len(program.notes())
        for origin in FOREIGN_ORIGINS:
            for known in (True, False):
                assert handshake(program.served, host=OWN_HOST, origin=origin, known=known) == 403
                for path in PATHS:
                    head = {"Origin": origin}
                    assert ask(program.served, path, head, known=known)[0] == 403
        calls = [note for note in program.notes()[before:] if note[0].startswith("socket.")]
        assert calls == []
    said = (tmp_path / "said").read_text(encoding="utf-8").splitlines()
    assert said[1:] == [words.STOPPED]


HOSTILE = """
[server]
enableCORS = false
enableXsrfProtection = false
enableAgentApi = true
enableStaticServing = true
address = "0.0.0.0"
port = 1
allowedHosts = ["*"]
corsAllowedOrigins = ["http://example.invalid"]
cookieSecret = "known"
baseUrlPath = "elsewhere"
sslCertFile = "/nowhere"
scriptHealthCheckEnabled = true
[server.trustedUserHeaders]
X-User = "name"
[browser]
serverAddress = "example.invalid"
gatherUsageStats = true
[global]
e2eTest = true
[theme]
base = "http://example.invalid/theme.toml"
"""
VARIABLES = {
    "STREAMLIT_SERVER_ENABLE_CORS": "false",
    "STREAMLIT_SERVER_COOKIE_SECRET": "known",
    "STREAMLIT_SERVER_ADDRESS": "0.0.0.0",
    "STREAMLIT_SERVER_ENABLE_AGENT_API": "true",
    "STREAMLIT_GLOBAL_DEVELOPMENT_MODE": "true",
}


def test_settings_elsewhere_loosen_nothing(tmp_path: Path) -> None:
    """A file of settings in the home folder and in the folder it is started from, and variables."""
    with apart(tmp_path, settings=HOSTILE, variables=VARIABLES) as program:
        served = program.served
        assert handshake(served, host=OWN_HOST, origin=OWN_ORIGIN) == 101
        assert handshake(served, host=OWN_HOST, origin="http://example.invalid") == 403
        status, told, _ = ask(served, "/_stcore/health", {"Origin": OWN_ORIGIN})
        assert status == 200
        assert told.get("access-control-allow-origin") != "*"
        own = {"Origin": OWN_ORIGIN, "X-User": "somebody"}
        pushed = ask(served, "/_stcore/upload_file/a/b", own, method="PUT")
        assert pushed[0] == 403
        driven = ask(served, "/_stcore/agent/interact", own, method="POST")
        assert driven[0] in (403, 404, 405)
        unknown = ask(served, "/_stcore/no-such-thing")
        assert ask(served, "/_stcore/script-health-check")[2] == unknown[2]
        calls = [note for note in program.notes() if note[0].startswith("socket.")]
        assert [note for note in calls if not note[1].startswith("(('127.0.0.1', ")] == []
    said = (tmp_path / "said").read_text(encoding="utf-8").splitlines()
    assert said[1:] == [words.STOPPED]
