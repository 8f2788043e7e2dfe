"""What the page server refuses and forbids, whatever page is asked for.

The page library checks the Host of its live connection only; here every request is checked, so
a foreign name that resolves to this computer gets nothing. The content policy makes the browser
itself refuse any request that would leave this computer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from starlette.datastructures import MutableHeaders
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

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
}


class QuietHeaders:
    """Add the headers above to every answer."""

    def __init__(self, app: Any) -> None:
        self.app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Pass the request on and amend the start of its answer."""

        async def amended(message: Any) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
            await send(message)

        await self.app(scope, receive, amended)


def guards(*, hosts: Sequence[str]) -> list[Middleware]:
    """The middleware of the page server, outermost first."""
    return [
        Middleware(TrustedHostMiddleware, allowed_hosts=list(hosts), www_redirect=False),
        Middleware(QuietHeaders),
    ]
