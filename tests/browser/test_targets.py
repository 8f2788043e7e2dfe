"""Addresses written in ways no browser writes them, a second program, and pushed files.

What is sent here goes over a bare socket, letter for letter, mostly with the pass: nothing may hide
behind a refusal that only says that there is none.
"""

from __future__ import annotations

import socket
from contextlib import ExitStack, closing
from urllib.parse import urljoin, urlsplit

import pytest
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import connect

from app.shell import words
from tests.browser.harness import Served, start_app
from tests.browser.test_strangers import OWN_ORIGIN, UPGRADE, ask


def home_of(served: Served) -> str:
    """Return the folder of a program, with its slash before it."""
    return urlsplit(served.address).path


def sent(
    served: Served, target: str, *, method: str = "GET", more: dict[str, str] | None = None
) -> tuple[int, dict[str, str], str]:
    """Send a request whose target is written just so, with the pass; return the answer."""
    head = {"Host": f"127.0.0.1:{served.port}", "Cookie": served.cookie, "Connection": "close"}
    lines = [f"{name}: {value}" for name, value in (head | (more or {})).items()]
    with socket.create_connection(("127.0.0.1", served.port), timeout=20) as link:
        link.sendall("\r\n".join([f"{method} {target} HTTP/1.1", *lines, "", ""]).encode())
        got = b""
        while block := link.recv(65536):
            got += block
            if got.startswith(b"HTTP/1.1 101"):
                break
    top, _, body = got.partition(b"\r\n\r\n")
    first, *told = top.decode("latin-1").split("\r\n")
    pairs = [line.split(": ", 1) for line in told]
    headers = {name.lower(): value for name, value in pairs}
    return int(first.split(" ")[1]), headers, body.decode(errors="replace")


ELSEWHERE = (
    "http://127.0.0.1:{port}{home}/",
    "http://127.0.0.1:{port}{home}/_stcore/health",
    "http://localhost:{port}{home}/",
    "http://example.invalid{home}/",
    "https://127.0.0.1:{port}{home}/",
    "file://{home}/",
    "/{home}/",
    "//example.invalid{home}/",
    "//127.0.0.1:{port}{home}/",
    "/.{home}/",
    "/x/..{home}/",
    "%2F{folder}/",
    "/%2F{folder}/",
    "{home}%2F",
    "{home}%2Fcases",
    "{home}%2f_stcore/health",
    "{home}%5Ccases",
    "{home};x/",
    "{home}%00/",
    "{home}./",
    "/{encoded}/",
    "/{encoded}/cases",
    "/{encoded}/_stcore/health",
    "/{first_encoded}/_stcore/health",
    "{folder}/",
    "?{folder}",
    "*",
)


@pytest.mark.parametrize("target", ELSEWHERE)
def test_the_folder_is_entered_by_its_plain_name_only(served: Served, target: str) -> None:
    home = home_of(served)
    folder = home[1:]
    written = target.format(
        port=served.port,
        home=home,
        folder=folder,
        encoded="".join(f"%{ord(sign):02X}" for sign in folder),
        first_encoded=f"%{ord(folder[0]):02x}{folder[1:]}",
    )
    assert sent(served, f"{home}/_stcore/health")[0] == 200
    for method in ("GET", "HEAD", "PUT", "OPTIONS"):
        status, told, text = sent(served, written, method=method)
        assert status in (400, 403), (method, written)
        assert "location" not in told
        assert status == 400 or text == ("" if method == "HEAD" else f"{words.NO_KEY}\n")
    head = UPGRADE | {"Origin": f"http://127.0.0.1:{served.port}"}
    assert sent(served, written.replace("_stcore/health", "_stcore/stream"), more=head)[0] != 101


@pytest.mark.parametrize(
    "target",
    [
        "http://127.0.0.1:{port}/?key={key}",
        "http://example.invalid/?key={key}",
        "//?key={key}",
        "/%2F?key={key}",
        "/.?key={key}",
        "/?%6Bey={key}x",
        "/?key={key}&key={key}",
    ],
)
def test_the_key_is_taken_at_the_front_door_only(served: Served, target: str) -> None:
    written = target.format(port=served.port, key=served.entry.split("?key=")[1])
    status, told, _ = sent(served, written)
    assert status in (400, 403)
    assert "set-cookie" not in told


INSIDE = (
    "//cases",
    "//example.invalid/",
    "//example.invalid//",
    "/%2Fexample.invalid/",
    "/%2F%2Fexample.invalid/%2F",
    "/\\example.invalid/",
    "/%5C%5Cexample.invalid/",
    "/%5Cexample.invalid/..",
    "/http://example.invalid/",
    "/..//example.invalid/",
    "/../",
    "/../../etc/passwd",
    "/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/etc/passwd",
    "/..%2f..%2f..%2f..%2f..%2fetc/passwd",
    "/static/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/etc/passwd",
    "/media/..%2f..%2f..%2fetc%2fpasswd",
    "/component/%2Fetc%2Fpasswd",
    "/%2Fetc%2Fpasswd",
    "/desk%2F",
    "/desk/%2F",
    "/%0d%0aset-cookie:%20a=b/",
    "/desk/%0d%0aset-cookie:%20a=b/",
)


@pytest.mark.parametrize("inside", INSIDE)
def test_no_path_inside_leads_out(served: Served, inside: str) -> None:
    home = home_of(served)
    base = f"http://127.0.0.1:{served.port}"
    status, told, text = sent(served, f"{home}{inside}")
    assert status in (200, 301, 302, 303, 307, 308, 400, 403, 404)
    if "location" in told:
        led_to = urljoin(f"{base}{home}{inside}", told["location"])
        assert led_to.startswith(f"{base}{home}/"), led_to
    if status == 200:
        assert "<title>" in text, "a page of the program: it shows its own sentence"
    assert "root:" not in text
    assert "a=b" not in told.get("set-cookie", "")


def test_every_cookie_belongs_to_the_folder(served: Served) -> None:
    """A browser sends those of "/" to every other web server of this computer."""
    set_ = [
        ask(served, path)[1].get("set-cookie", "")
        for path in ("/", "/_stcore/health", "/_stcore/host-config", "/cases")
    ]
    assert any(set_)
    for one in filter(None, set_):
        assert f"Path={home_of(served)};" in f"{one};"


def test_two_programs_on_two_ports_do_not_open_each_other(served: Served) -> None:
    """As in one browser: it sends the cookies of both programs wherever the path fits."""
    with start_app() as other:
        for one, another in ((served, other), (other, served)):
            assert ask(one, "/")[0] == 200
            theirs, both = another.cookie, f"{another.cookie}; {one.cookie}"
            renamed = f"{one.cookie.split('=')[0]}={theirs.split('=')[1]}"
            assert ask(one, "/", {"Cookie": both})[0] == 200
            assert ask(one, "/_stcore/health", {"Cookie": both})[0] == 200
            for cookie in (theirs, renamed):
                assert ask(one, "/", {"Cookie": cookie})[0] == 403
            key = another.entry.split("?key=")[1]
            assert ask(one, f"/?key={key}", known=False, folder=False)[0] == 403
            folder = home_of(another)
            assert ask(one, f"{folder}/", folder=False)[0] == 403
            assert ask(one, "/", {"Origin": f"http://127.0.0.1:{another.port}"})[0] == 403
            assert ask(one, "/", host=f"127.0.0.1:{another.port}")[0] == 403


class Place:
    """Where a tab may put one file: made over its live connection, as the page library does."""

    def __init__(self, served: Served) -> None:
        self.served = served
        self._left = ExitStack()
        opened = connect(
            served.address.replace("http://", "ws://") + "/_stcore/stream",
            additional_headers={"Cookie": served.cookie},
            origin=OWN_ORIGIN.format(port=served.port),  # type: ignore[arg-type]
            subprotocols=["streamlit"],  # type: ignore[list-item]
            max_size=None,
            close_timeout=1,
        )
        self._live = self._left.enter_context(opened)
        message = BackMsg()
        message.rerun_script.page_name = "cases"
        self._live.send(message.SerializeToString())
        session = self._next("new_session").new_session.initialize.session_id
        message = BackMsg()
        message.file_urls_request.request_id = "1"
        message.file_urls_request.file_names.append("copy.sqlite3")
        message.file_urls_request.session_id = session
        self._live.send(message.SerializeToString())
        urls = self._next("file_urls_response").file_urls_response.file_urls
        self.path = urls[0].upload_url
        told = ask(served, "/_stcore/health")[1]
        self.token = told["set-cookie"].split(";")[0]

    def close(self) -> None:
        """Leave as a closed tab does."""
        self._left.close()

    def _next(self, kind: str) -> ForwardMsg:
        while True:
            message = ForwardMsg()
            raw = self._live.recv(timeout=60)
            assert isinstance(raw, bytes)
            message.ParseFromString(raw)
            if message.WhichOneof("type") == kind:
                return message

    def push(self, *, method: str = "PUT", **changed: str | None) -> tuple[int, str]:
        """Push a file as the page would, but for the headers given; None leaves one out."""
        edge = "edge"
        body = (
            f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="a.sqlite3"\r\n'
            f"Content-Type: application/octet-stream\r\n\r\nbytes\r\n--{edge}--\r\n"
        )
        own: dict[str, str | None] = {
            "Host": f"127.0.0.1:{self.served.port}",
            "Origin": f"http://127.0.0.1:{self.served.port}",
            "Cookie": f"{self.served.cookie}; {self.token}",
            "X-Xsrftoken": self.token.split("=", 1)[1].strip('"'),
            "Content-Type": f"multipart/form-data; boundary={edge}",
            "Content-Length": str(len(body)),
            "Connection": "close",
        }
        own |= {name.replace("_", "-").title(): value for name, value in changed.items()}
        lines = [f"{name}: {value}" for name, value in own.items() if value is not None]
        target = f"{home_of(self.served)}{self.path}"
        with socket.create_connection(("127.0.0.1", self.served.port), timeout=20) as link:
            top = "\r\n".join([f"{method} {target} HTTP/1.1", *lines, "", ""])
            link.sendall((top + body).encode())
            got = b""
            while block := link.recv(65536):
                got += block
        return int(got.split(b" ")[1]), got.partition(b"\r\n\r\n")[2].decode()


def test_a_file_is_pushed_with_pass_and_token_only(served: Served) -> None:
    with closing(Place(served)) as place:
        foreign = f"http://127.0.0.1:{served.port + 1}"
        without: list[dict[str, str | None]] = [
            {"cookie": None},
            {"cookie": place.token},
            {"cookie": f"lg_{served.port}=AAAA; {place.token}"},
            {"origin": foreign},
            {"origin": "null"},
            {"host": f"example.invalid:{served.port}"},
            {"sec_fetch_site": "same-site"},
        ]
        for method in ("PUT", "DELETE"):
            for changed in without:
                assert place.push(method=method, **changed) == (403, f"{words.NO_KEY}\n"), changed
            for changed in ({"cookie": served.cookie}, {"x_xsrftoken": None}):
                status, text = place.push(method=method, **changed)
                assert status == 403
                assert words.NO_KEY not in text, "the page library's own lock, behind ours"
        assert place.push()[0] == 204
        of_another = f"{served.cookie}; {place.token}; _streamlit_xsrf=2|00000000|00|1"
        assert place.push(cookie=of_another)[0] == 204
        assert place.push(method="DELETE")[0] == 204
