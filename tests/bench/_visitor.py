"""A visitor without a browser: the page library's own messages over its own live connection.

It does what the browser's part of the library does: holds the elements by their place, sends every
value set so far with each change, keeps large messages and names them, and calls the parts of the
page that ask to be drawn again by themselves.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import ExitStack
from typing import Any

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState
from websockets.sync.client import connect

from tests.browser.harness import PASSES

PATIENCE_S = 120.0
"""After so long a visitor gives up: a failure."""
_LINE = 'class="lg-answer'


class Visitor:
    """One tab on a page of a program that runs; without a name, on the first.

    With a draft, as an address says it, on the answers of that draft.
    """

    def __init__(self, address: str, page: str = "", draft: str = "") -> None:
        self._left = ExitStack()
        self._name = page
        self._live = self._left.enter_context(
            connect(
                address.replace("http://", "ws://") + "/_stcore/stream",
                additional_headers={"Cookie": PASSES[address]},
                origin="/".join(address.split("/")[:3]),  # type: ignore[arg-type]
                subprotocols=["streamlit"],  # type: ignore[list-item]
                max_size=None,
                ping_interval=None,
                close_timeout=1,
            )
        )
        self._query, self._page = draft, ""
        self._values: dict[str, WidgetState] = {}
        self._kept: dict[str, ForwardMsg] = {}
        self._drawn: dict[tuple[int, ...], Any] = {}
        self._fresh: set[tuple[int, ...]] = set()
        self._again: dict[str, tuple[float, float]] = {}
        self.runs = 0
        """Runs of the whole page that came to their end."""
        self.faults: list[str] = []
        self.received_bytes = 0

    def open(self) -> None:
        """Ask for the page and wait until it is drawn."""
        self._ask()
        self.wait(lambda: self.runs > 0, "the first page")

    def close(self) -> None:
        """Leave as a closed tab does."""
        self._left.close()

    def set(self, name: str, value: str) -> None:
        """Put a value into the field of that name, without waiting for the answer."""
        field = self._field(name)
        state = WidgetState(id=field.id, string_value=value)
        self._values[field.id] = state
        self._ask()

    def fill(self, texts: dict[str, str]) -> None:
        """Put texts into fields by the beginning of their labels, and wait until it is answered."""
        before = self.runs
        for label, text in texts.items():
            fields = [getattr(one, one.WhichOneof("type")) for one in self._drawn.values()]
            named = [one.id for one in fields if getattr(one, "label", "").startswith(label)]
            assert named, f"the page has no {label}: {self.faults} {self.texts()}"[:900]
            self._values[named[0]] = WidgetState(id=named[0], string_value=text)
        self._ask()
        self.wait(lambda: self.runs > before, "an answer")

    def press(self, key: str) -> None:
        """Press a button, or tick a box, by its key or its words; do not wait for the answer."""
        for element in self._drawn.values():
            kind = element.WhichOneof("type")
            field = getattr(element, kind)
            name = getattr(field, "id", "")
            if not name.endswith((f"-{key}", f".{key}")) and getattr(field, "label", "") != key:
                continue
            if kind == "checkbox":
                self._values[name] = WidgetState(id=name, bool_value=True)
                self._ask()
            else:
                self._ask(pressed=WidgetState(id=name, trigger_value=True))
            return
        raise AssertionError(f"the page has no {key}: {self.faults} {self.texts()}"[:900])

    @property
    def draft(self) -> str:
        """What the address says of the answers: the name of their draft."""
        return self._query

    def downloads(self) -> list[str]:
        """Addresses of the files that the page offers, without the part before /media."""
        found = (one.download_button.url for one in self._drawn.values())
        return [one for one in found if one]

    def line(self) -> str:
        """The line always in view, as HTML; empty while there is none."""
        found = [one for one in self.texts() if _LINE in one]
        return found[0] if found else ""

    def texts(self) -> list[str]:
        """Every piece of formatted text on the page, in order."""
        kinds = ((one, one.WhichOneof("type")) for _, one in sorted(self._drawn.items()))
        return [one.markdown.body for one, kind in kinds if kind == "markdown"]

    def wait(self, until: Callable[[], bool], what: str, *, seconds: float = PATIENCE_S) -> None:
        """Follow the page until something holds."""
        end = time.monotonic() + seconds
        while not until():
            if time.monotonic() > end:
                raise AssertionError(f"waited {seconds:g} s for {what}; the line is {self.line()}")
            self._follow(end)

    def think(self, seconds: float) -> None:
        """Change nothing for a while; the page may go on by itself."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self._follow(end)

    def _field(self, name: str) -> Any:
        for element in self._drawn.values():
            field = getattr(element, element.WhichOneof("type"))
            if getattr(field, "id", "").partition(".")[2] == name:
                return field
        raise AssertionError(f"the page has no field {name}: {self.faults} {self.texts()}"[:900])

    def _ask(self, part: str = "", *, pressed: WidgetState | None = None) -> None:
        message = BackMsg()
        wanted = message.rerun_script
        wanted.query_string, wanted.page_script_hash = self._query, self._page
        if not self._page:
            wanted.page_name = self._name
        wanted.widget_states.widgets.extend(self._values.values())
        if pressed is not None:
            wanted.widget_states.widgets.append(pressed)
        wanted.cached_message_hashes.extend(self._kept)
        if part:
            wanted.fragment_id, wanted.is_auto_rerun = part, True
        self._live.send(message.SerializeToString())

    def _follow(self, end: float) -> None:
        """Take one message, or call the part of the page whose time has come."""
        now = time.monotonic()
        part, (due, every) = min(
            self._again.items(), key=lambda one: one[1][0], default=("", (end, 0.0))
        )
        if part and due <= now:
            self._again[part] = (now + every, every)
            self._ask(part)
            return
        try:
            raw = self._live.recv(timeout=max(0.0, min(due, end) - now))
        except TimeoutError:
            return
        assert isinstance(raw, bytes)
        self.received_bytes += len(raw)
        message = ForwardMsg()
        message.ParseFromString(raw)
        self._take(message)

    def _take(self, message: ForwardMsg) -> None:
        kind = message.WhichOneof("type")
        if kind == "ref_hash":
            place = list(message.metadata.delta_path)
            message = self._kept[message.ref_hash]
            self._draw(tuple(place), message.delta)
        elif kind == "delta":
            if message.metadata.cacheable:
                self._kept[message.hash] = message
            self._draw(tuple(message.metadata.delta_path), message.delta)
        elif kind == "new_session":
            self._begun(message)
        elif kind == "navigation":
            self._page = message.navigation.page_script_hash
        elif kind == "page_info_changed":
            self._query = message.page_info_changed.query_string
        elif kind == "auto_rerun":
            part, every = message.auto_rerun.fragment_id, message.auto_rerun.interval
            self._again[part] = (time.monotonic() + every, every)
        elif kind == "script_finished":
            self._ended(message)
        elif kind == "session_event":
            self.faults.append(str(message.session_event)[:200])

    def _begun(self, message: ForwardMsg) -> None:
        self._page = message.new_session.page_script_hash
        if not message.metadata.run.fragment_ids:
            self._again.clear()
            self._fresh.clear()

    def _ended(self, message: ForwardMsg) -> None:
        if message.script_finished == ForwardMsg.FINISHED_WITH_COMPILE_ERROR:
            self.faults.append("the page failed")
        if message.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY:
            self.runs += 1
            for old in self._drawn.keys() - self._fresh:  # not drawn again: no longer on the page
                del self._drawn[old]

    def _draw(self, place: tuple[int, ...], delta: Any) -> None:
        """Put an element in its place; a new block or element takes away what was under it."""
        for old in [old for old in self._drawn if old[: len(place)] == place]:
            if delta.WhichOneof("type") == "new_element" or old == place:
                del self._drawn[old]
        if delta.WhichOneof("type") == "new_element":
            element = delta.new_element
            self._drawn[place] = element
            self._fresh.add(place)
            if element.WhichOneof("type") == "exception":
                self.faults.append(element.exception.type)
            if (
                element.WhichOneof("type") == "alert"
                and element.alert.format == element.alert.ERROR
            ):
                self.faults.append("an error box")
