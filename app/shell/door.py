"""Who is let in: this program's own pages, in a browser that came with the key.

Everything that arrives is judged here before the page library sees it, the live connection too. The
page library would look up this computer's address on the internet to judge a foreign origin, and
lets in the pages of every other local web server.

Three secrets are made at every start. The key is in the printed address. Whoever brings it gets the
pass, a cookie, and is sent on to a folder of a random name, so that the address shown keeps no key.
A browser sends cookies to every port of the same computer: since the pass belongs to that folder
alone, another local web server would have to guess its name to be sent the pass.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qs

from app.shell import words

KEY_BYTES = 24
"""192 random bits in the key and in the pass."""
FOLDER_BYTES = 12
"""96 random bits: it only has to be beyond guessing for other web servers, one visit a guess."""
FOREIGN = {b"cross-site", b"same-site"}
"""What a browser says of a request that a page of another site, or of another port, began."""
AGAIN = (
    b"<!doctype html><html lang=en><meta charset=utf-8><title>Levelgaze</title>"
    b"<script>location.replace(location.href)</script>"
)
"""A browser holds the pass back when a page elsewhere, or a file, led here: come once more."""


def _secret(of_bytes: int) -> Callable[[], str]:
    return lambda: secrets.token_urlsafe(of_bytes)


@dataclass(frozen=True)
class Lock:
    """What opens one run of the program on one port; nothing of it is written anywhere."""

    port: int
    key: str = field(default_factory=_secret(KEY_BYTES), repr=False)
    access: str = field(default_factory=_secret(KEY_BYTES), repr=False)
    folder: str = field(default_factory=_secret(FOLDER_BYTES), repr=False)

    @property
    def entry(self) -> str:
        """Return the address that lets a browser in."""
        return f"http://127.0.0.1:{self.port}/?key={self.key}"

    @property
    def hosts(self) -> list[bytes]:
        """Return the names under which this program is asked for."""
        return [f"{name}:{self.port}".encode() for name in ("127.0.0.1", "localhost")]

    @property
    def cookie_name(self) -> str:
        """Return the name of the pass; it holds the port, for a browser mixes the ports."""
        return f"lg_{self.port}"

    @property
    def cookie(self) -> str:
        """Return the pass as the browser is told to keep it, until it is closed."""
        return f"{self.cookie_name}={self.access}; Path=/{self.folder}; HttpOnly; SameSite=Strict"


class Door:
    """Let in what brings the pass from this program's own pages; refuse the rest."""

    def __init__(self, app: Any, *, lock: Lock, entered: Callable[[], None]) -> None:
        self.app = app
        self.lock = lock
        self.entered = entered

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Let one request or live connection in, give it a pass, or refuse it."""
        kind = scope["type"]
        if kind == "lifespan":
            await self.app(scope, receive, send)
            return
        asked = _Asked(scope)
        if kind not in ("http", "websocket") or not asked.is_own(self.lock.hosts):
            await _refuse(kind, send)
        elif key := asked.key():
            await self._exchange(key, send)
        elif not self._in_folder(asked):
            await _refuse(kind, send)
        elif not self._has_pass(asked):
            if asked.led_here:
                await _answer(send, 200, AGAIN, (b"content-type", b"text/html; charset=utf-8"))
            else:
                await _refuse(kind, send)
        elif asked.path == f"/{self.lock.folder}":
            query = b"?" + scope["query_string"] if scope["query_string"] else b""
            await _answer(send, 303, b"", (b"location", f"/{self.lock.folder}/".encode() + query))
        else:
            await self.app(self._inside(scope, asked), receive, self._outside(send))

    async def _exchange(self, key: str, send: Any) -> None:
        if not hmac.compare_digest(key.encode(), self.lock.key.encode()):
            await _refuse("http", send)
            return
        place = (b"location", f"/{self.lock.folder}/".encode())
        await _answer(send, 303, b"", place, (b"set-cookie", self.lock.cookie.encode()))
        self.entered()

    def _in_folder(self, asked: _Asked) -> bool:
        """Tell whether it names the folder plainly: a browser writes none of its letters as %41."""
        before, slash, rest = asked.raw_path.partition(b"/")
        first = rest.partition(b"/")[0] if slash and not before else b""
        return hmac.compare_digest(first, self.lock.folder.encode())

    def _has_pass(self, asked: _Asked) -> bool:
        wanted = f"{self.lock.cookie_name}={self.lock.access}".encode()
        return any(hmac.compare_digest(one, wanted) for one in asked.cookies())

    def _inside(self, scope: Any, asked: _Asked) -> Any:
        """Return the request for the page library: without the folder, without the pass.

        Of two cookies of one name only the first is handed on, the one of the longest path: another
        program that is made with the same library sets its own for all ports.
        """
        before = len(self.lock.folder) + 1
        first: dict[bytes, bytes] = {}
        for one in asked.cookies():
            first.setdefault(one.partition(b"=")[0], one)
        first.pop(self.lock.cookie_name.encode(), None)
        others = b"; ".join(first.values())
        headers = [(name, value) for name, value in scope["headers"] if name != b"cookie"]
        return scope | {
            "path": scope["path"][before:],
            "raw_path": asked.raw_path[before:],
            "headers": headers + ([(b"cookie", others)] if others else []),
        }

    def _outside(self, send: Any) -> Any:
        """Return where the page library's answers go: they lead, and set cookies, in the folder."""
        folder = f"/{self.lock.folder}".encode()

        def kept_here(name: bytes, value: bytes) -> bytes:
            if name.lower() == b"location" and value.startswith(b"/"):
                return folder + value
            if name.lower() == b"set-cookie":
                return value.replace(b"; Path=/;", b"; Path=" + folder + b";")
            return value

        async def sent(message: Any) -> None:
            if message["type"] == "http.response.start":
                headers = message["headers"]
                message["headers"] = [(name, kept_here(name, value)) for name, value in headers]
            await send(message)

        return sent


class _Asked:
    """One request, as far as the door looks at it."""

    def __init__(self, scope: Any) -> None:
        self.is_http = scope["type"] == "http"
        self.path = str(scope.get("path", ""))
        self.raw_path = bytes(scope.get("raw_path") or self.path.encode())
        """As it was sent: letters of the path may be written as %41."""
        self._method = scope.get("method", "GET")
        self._query = scope.get("query_string", b"")
        self._headers: list[tuple[bytes, bytes]] = scope.get("headers", [])

    def is_own(self, hosts: list[bytes]) -> bool:
        """Tell whether it came under the program's own name and, where said, from its own pages."""
        named, origins = self._all(b"host"), self._all(b"origin")
        if len(named) != 1 or named[0] not in hosts:
            return False
        if any(origin != b"http://" + named[0] for origin in origins):
            return False
        if not self.is_http:
            return len(origins) == 1
        return self._is_visit or not FOREIGN.intersection(self._all(b"sec-fetch-site"))

    def key(self) -> str:
        """Return the key it brings to the front door, or an empty text."""
        if not self.is_http or self._method != "GET" or self.path != "/":
            return ""
        try:
            given = parse_qs(self._query.decode("latin-1"), max_num_fields=20).get("key", [""])
        except ValueError:  # more fields than anybody of ours sends
            return ""
        return given[0] if len(given) == 1 else ""

    def cookies(self) -> list[bytes]:
        """Return every `name=value` it carries."""
        return [one.strip() for line in self._all(b"cookie") for one in line.split(b";")]

    @property
    def led_here(self) -> bool:
        """Tell whether a page elsewhere, or a file, led a window of the browser here."""
        return self._is_visit and bool(FOREIGN.intersection(self._all(b"sec-fetch-site")))

    @property
    def _is_visit(self) -> bool:
        """Tell whether it is a window going to an address, which changes nothing here."""
        return (
            self.is_http
            and self._method == "GET"
            and self._all(b"sec-fetch-mode") == [b"navigate"]
            and self._all(b"sec-fetch-dest") == [b"document"]
        )

    def _all(self, name: bytes) -> list[bytes]:
        return [value for one, value in self._headers if one == name]


async def _refuse(kind: str, send: Any) -> None:
    """Answer 403, to a live connection as well, and say how to get in."""
    if kind == "websocket":
        await send({"type": "websocket.close", "code": 1008})
    elif kind == "http":
        kind_of_text = (b"content-type", b"text/plain; charset=utf-8")
        await _answer(send, 403, f"{words.NO_KEY}\n".encode(), kind_of_text)


async def _answer(send: Any, status: int, body: bytes, *headers: tuple[bytes, bytes]) -> None:
    always = [(b"cache-control", b"no-store"), (b"content-length", str(len(body)).encode())]
    start = {"type": "http.response.start", "status": status, "headers": [*headers, *always]}
    await send(start)
    await send({"type": "http.response.body", "body": body})
