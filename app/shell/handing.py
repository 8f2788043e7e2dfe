"""Pass the key to the browser of this user, past everyone else who uses the computer.

Every user may list the arguments of every program, so the browser is not started with the key but
with the name of a file that only this user can read, and the file leads on.
"""

from __future__ import annotations

import html
import json
import os
import shutil
import tempfile
import threading
import webbrowser
from pathlib import Path

LEADS_ON = """<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="referrer" content="no-referrer">
<meta http-equiv="refresh" content="1; url={shown}">
<title>Levelgaze</title>
<script>location.replace({quoted})</script>
"""
LONGEST_S = 120.0
"""A browser that has not come by then does not come."""


class Handing:
    """The file that leads a browser in, and its removal."""

    def __init__(self, entry: str) -> None:
        self._entry = entry
        self._folder: Path | None = None
        self._timer = threading.Timer(LONGEST_S, self.remove)
        self._timer.daemon = True

    def begin(self) -> bool:
        """Write the file and open the browser with it; return whether there is one to open."""
        self._folder = Path(tempfile.mkdtemp(prefix="levelgaze-"))
        path = self._folder / "open.html"
        content = LEADS_ON.format(shown=html.escape(self._entry), quoted=json.dumps(self._entry))
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            file.write(content)
        self._timer.start()
        opened = webbrowser.open(path.as_uri())
        if not opened:
            self.remove()
        return opened

    def remove(self) -> None:
        """Remove the file: the browser is in, or the program stops."""
        self._timer.cancel()
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)
