"""The door by itself: a request that would trouble it is refused like any other."""

from __future__ import annotations

import asyncio
from typing import Any

from app.shell.door import Door, Lock


def test_a_crowd_of_fields_is_refused_and_no_fault() -> None:
    lock = Lock(port=8610)
    sent: list[dict[str, Any]] = []

    async def inside(*_: Any) -> None:
        raise AssertionError("nobody is let in without the pass")

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    scope = {
        "type": "http",
        "method": "GET",
        "path": "/",
        "query_string": b"&".join([b"key=x"] * 40),
        "headers": [(b"host", b"127.0.0.1:8610")],
    }
    door = Door(inside, lock=lock, entered=lambda: None)
    asyncio.run(door(scope, None, send))
    assert sent[0]["status"] == 403
