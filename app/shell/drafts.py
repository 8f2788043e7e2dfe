"""Answers being typed, kept in this process only: bounded, expiring, deletable.

Nothing here is written to disk, logged or put in an address; the address carries a random token.
"""

from __future__ import annotations

import re
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

EXPIRY_S = 8 * 3600.0
"""A working day: after it an untouched draft is forgotten."""
BACK_S = 60.0
"""So long can replaced or deleted answers be brought back."""
MOST_DRAFTS = 64
MOST_VALUES = 600
MOST_TEXT = 4000
"""Characters of one value; a longer one is cut, and refused where it is read."""
LOOKS = ("view.", "cases.")
"""How the names of values begin that only say what is shown."""
_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")


def passed_s() -> float:
    """Return the seconds that no change of the clock moves, counted also while the computer sleeps.

    time.monotonic() stands still in a sleep (Linux, macOS): a draft would outlive the night.
    """
    which = getattr(time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None))
    return time.monotonic() if which is None else time.clock_gettime(which)


@dataclass
class Draft:
    """One person's answers, as typed, with a count of the changes made.

    Attributes:
        blank: what a field holds before anything is typed in it.
        good: the values of the last page that was drawn to its end.
    """

    token: str
    touched_s: float
    values: dict[str, Any] = field(default_factory=dict)
    revision: int = 0
    results: dict[str, Any] = field(default_factory=dict)
    blank: dict[str, Any] = field(default_factory=dict)
    good: dict[str, Any] | None = None

    def put(self, name: str, value: Any) -> bool:
        """Store one value; True if that changed anything."""
        kept = value[:MOST_TEXT] if isinstance(value, str) else value
        if name in self.values and self.values[name] == kept:
            return False
        if name not in self.values and len(self.values) >= MOST_VALUES:
            return False
        self.values[name] = kept
        self.revision += 1
        return True

    def typed(self, values: dict[str, Any] | None = None) -> bool:
        """Tell whether it holds, or these values do, anything that somebody typed or opened."""
        return any(
            value and value != self.blank.get(name)
            for name, value in (self.values if values is None else values).items()
            if not name.startswith(LOOKS)
        )

    def changed(self) -> bool:
        """Tell whether it differs from the values of the last page that was drawn to its end."""
        if self.good is None:
            return False
        names = self.values.keys() | self.good.keys()
        return any(self._value(self.values, name) != self._value(self.good, name) for name in names)

    def _value(self, values: dict[str, Any], name: str) -> Any:
        return values.get(name, self.blank.get(name))


class DraftBook:
    """The drafts of this process, the least recently touched forgotten first."""

    def __init__(self, *, clock: Callable[[], float] = passed_s) -> None:
        self._clock = clock
        self._drafts: OrderedDict[str, Draft] = OrderedDict()
        self._aside: dict[str, tuple[float, dict[str, Any]]] = {}
        self._lock = threading.Lock()

    def __len__(self) -> int:
        return len(self._drafts)

    def start(self) -> Draft:
        """Return a new, empty draft under a new token."""
        with self._lock:
            draft = Draft(token=secrets.token_urlsafe(16), touched_s=self._clock())
            self._drafts[draft.token] = draft
            self._forget_old()
            return draft

    def find(self, token: str | None) -> Draft | None:
        """Return the draft of a token, if it is still kept."""
        if not token or not _TOKEN.fullmatch(token):
            return None
        with self._lock:
            self._forget_old()
            draft = self._drafts.get(token)
            if draft is not None:
                draft.touched_s = self._clock()
                self._drafts.move_to_end(token)
            return draft

    def delete(self, token: str) -> None:
        """Forget a draft and everything computed from it."""
        with self._lock:
            draft = self._drafts.pop(token, None)
        if draft is not None:
            draft.values.clear()
            draft.results.clear()
            draft.good = None

    def put_aside(self, values: dict[str, Any]) -> str:
        """Keep replaced or deleted answers for `BACK_S`; returns the token that brings them back.

        values: of a draft; they are copied.
        """
        with self._lock:
            self._forget_old()
            token = secrets.token_urlsafe(16)
            self._aside[token] = (self._clock() + BACK_S, dict(values))
            while len(self._aside) > MOST_DRAFTS:
                del self._aside[next(iter(self._aside))]
            return token

    def is_aside(self, token: str | None) -> bool:
        """Tell whether answers put aside under a token can still be brought back."""
        with self._lock:
            self._forget_old()
            return token in self._aside

    def take_aside(self, token: str | None) -> dict[str, Any] | None:
        """Return the answers put aside under a token, which then holds them no more."""
        with self._lock:
            self._forget_old()
            found = self._aside.pop(token or "", None)
            return None if found is None else found[1]

    def forget_aside(self) -> None:
        """Forget everything that could be brought back, of every tab."""
        with self._lock:
            self._aside.clear()

    def tidy(self) -> None:
        """Forget whatever is past its time."""
        with self._lock:
            self._forget_old()

    def _forget_old(self) -> None:
        now = self._clock()
        for token in [t for t, (until, _) in self._aside.items() if until < now]:
            del self._aside[token]
        limit = now - EXPIRY_S
        for token in [t for t, draft in self._drafts.items() if draft.touched_s < limit]:
            del self._drafts[token]
        while len(self._drafts) > MOST_DRAFTS:
            self._drafts.popitem(last=False)


BOOK = DraftBook()
"""The one book of this process."""
