"""Keep the secret of this computer that decides how the figures of a team are blurred.

Thirty-two random bytes in the folder of the kept cases, written at the first team answer, readable
by this user only. It holds nothing of anybody. The same team gives the same figures for as long as
it lies there; "delete everything" removes it, and the next answer starts another.
"""

from __future__ import annotations

import os
import secrets
import stat
from contextlib import suppress
from typing import TYPE_CHECKING

from engine.files.output import removed, write_new
from engine.files.store_file import default_path

if TYPE_CHECKING:
    from pathlib import Path

FILE_NAME = "team-rounding.key"
BYTES = 32
_OF_THIS_START = secrets.token_bytes(BYTES)
"""What is used where no file can be kept: figures then differ from one start to the next."""


def path() -> Path:
    """Return where the secret lies: beside the kept cases."""
    return default_path().with_name(FILE_NAME)


def secret() -> bytes:
    """Return the secret; write it where there is none yet.

    Where it cannot be read or written (a full disk, a protected folder, something else under its
    name) that of this start of the program is returned.
    """
    with suppress(OSError):
        return _read(path())
    with suppress(OSError):
        _write_once(path())
        return _read(path())
    return _OF_THIS_START


def forget() -> bool:
    """Remove the secret; True where there was one.

    Raises
        OSError: it cannot be removed.
    """
    return removed(path())


def _read(file: Path) -> bytes:
    """Return what a file of ours holds; whoever else could read it loses that right."""
    handle = os.open(file, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as opened:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            raise FileExistsError(str(file))
        content = opened.read(BYTES + 1)
    if len(content) != BYTES:
        raise FileExistsError(str(file))
    if stat.S_IMODE(found.st_mode) & 0o077 and os.name == "posix":
        file.chmod(0o600)
    return content


def _write_once(file: Path) -> None:
    """Make the file in one step: another session sees it whole or not at all, and never two."""
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with suppress(FileExistsError):  # another session was first
        write_new(file, secrets.token_bytes(BYTES))
