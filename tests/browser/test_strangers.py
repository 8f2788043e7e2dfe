"""Pages of others get neither the live connection nor the upload path."""

from __future__ import annotations

import http.client

import pytest

from tests.browser.harness import Served


def handshake(served: Served, *, host: str, origin: str) -> int:
    """Ask for the live connection as a browser would, and return the answer's status."""
    port = int(served.address.rsplit(":", 1)[1])
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    headers = {
        "Host": host.format(port=port),
        "Origin": origin.format(port=port),
        "Upgrade": "websocket",
        "Connection": "Upgrade",
        "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "MDEyMzQ1Njc4OWFiY2RlZg==",
    }
    try:
        connection.request("GET", "/_stcore/stream", headers=headers)
        return connection.getresponse().status
    finally:
        connection.close()


OWN_HOST, OWN_ORIGIN = "127.0.0.1:{port}", "http://127.0.0.1:{port}"


@pytest.mark.parametrize(
    ("host", "origin", "opens"),
    [
        (OWN_HOST, OWN_ORIGIN, True),
        (OWN_HOST, "http://example.invalid", False),
        (OWN_HOST, "http://127.0.0.1.example.invalid:{port}", False),
        (OWN_HOST, "null", False),
        ("example.invalid", OWN_ORIGIN, False),
        ("example.invalid:{port}", "http://example.invalid:{port}", False),
        ("[::1]:{port}", OWN_ORIGIN, False),
    ],
)
def test_the_live_connection_opens_for_this_computer_only(
    served: Served, host: str, origin: str, opens: bool
) -> None:
    assert (handshake(served, host=host, origin=origin) == 101) is opens


@pytest.mark.parametrize("method", ["PUT", "DELETE"])
def test_a_file_cannot_be_pushed_by_another_page(served: Served, method: str) -> None:
    port = int(served.address.rsplit(":", 1)[1])
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    connection.request(method, "/_stcore/upload_file/a/b", b"x", {"Origin": "http://a.invalid"})
    assert connection.getresponse().status == 403
    connection.close()
