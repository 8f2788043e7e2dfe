"""Search plainly for a while, whatever is loaded."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from engine.kernel import compiled


@contextmanager
def plainly() -> Iterator[None]:
    """The same without the compiled search."""
    compiled.load()  # so that nothing loads it meanwhile
    module, compiled._loaded.module = compiled._loaded.module, None
    try:
        yield
    finally:
        compiled._loaded.module = module
