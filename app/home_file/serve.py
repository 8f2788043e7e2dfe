"""Serve the home check, and nothing else, on this computer only.

One address answers with the file; there is no store, no other page, and no log.
"""

from __future__ import annotations

from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

HOST = "127.0.0.1"


def server(port: int, file: str) -> ThreadingHTTPServer:
    """Return a server of that file at `/`, bound but not yet started."""
    body = file.encode()

    class Home(BaseHTTPRequestHandler):
        server_version = sys_version = ""

        def do_GET(self) -> None:
            found = self.path == "/" and self.headers.get("host") in allowed
            self.send_response(HTTPStatus.OK if found else HTTPStatus.NOT_FOUND)
            self.send_header("content-type", "text/html; charset=utf-8")
            self.send_header("content-length", str(len(body) if found else 0))
            for name, value in HEADERS.items():
                self.send_header(name, value)
            self.end_headers()
            if found:
                self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Keep every request out of the terminal, where the base class would print it."""

    made = ThreadingHTTPServer((HOST, port), Home)
    allowed = {f"{HOST}:{made.server_port}", f"localhost:{made.server_port}"}
    return made


HEADERS = {
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "content-security-policy": "frame-ancestors 'none'",
    "cross-origin-resource-policy": "same-origin",
}
