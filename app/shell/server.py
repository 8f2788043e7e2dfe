"""What the page server refuses and forbids, whatever page is asked for.

The door checks every request; the content policy makes the browser itself refuse any request that
would leave this computer.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from starlette.datastructures import MutableHeaders
from starlette.middleware import Middleware

from app.shell.door import Door, Lock

CONTENT_POLICY = "; ".join(
    [
        "default-src 'self'",
        "script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        "connect-src 'self' data: blob:",
        "worker-src 'self' blob:",
        "frame-ancestors 'none'",
        "form-action 'none'",
        "base-uri 'self'",
    ]
)
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}


MADE_FILES = "/media/"
"""Where the page library serves what a page made: sheets, tables, cases."""


class QuietHeaders:
    """Add the headers above to every answer; the browser stores no file made from answers."""

    def __init__(self, app: Any) -> None:
        self.app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Let the request through and add the headers to the start of its answer."""

        async def amended(message: Any) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                if MADE_FILES in scope.get("path", ""):
                    headers["cache-control"] = "no-store"
            await send(message)

        await self.app(scope, receive, amended)


def guards(*, lock: Lock, entered: Callable[[], None]) -> list[Middleware]:
    """Return the middleware of the page server, outermost first; `entered` hears of each entry."""
    return [
        Middleware(QuietHeaders),
        Middleware(Door, lock=lock, entered=entered),
    ]
