"""Write a file whole or not at all, and refuse what is no file.

A part that is being written has no name where the system allows that, so not even a kill leaves it
behind; elsewhere its name is random. It is readable by its owner alone, and so is the file.
"""

from __future__ import annotations

import os
import secrets
import stat
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from engine.errors import InputRefusedError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import TextIO

PRIVATE = 0o600
_KINDS = {
    stat.S_IFDIR: "a folder",
    stat.S_IFBLK: "a disk",
    stat.S_IFSOCK: "a socket",
    stat.S_IFIFO: "a pipe",
    stat.S_IFCHR: "a device",
}


def check_readable(path: Path, *, field: str, most_bytes: int | None = None) -> None:
    """Refuse a source that is not a file, or is larger than it may be.

    Raises
        InputRefusedError: a folder, pipe, device or socket, which might never end; or too large.
        OSError: there is no such file.
    """
    found = path.stat()
    if not stat.S_ISREG(found.st_mode):
        _refuse_kind(path, found.st_mode, field)
    if most_bytes is not None and found.st_size > most_bytes:
        size = f"{found.st_size / 1e6:.1f} MB"
        allowed = f"a file of at most {most_bytes / 1e6:g} MB"
        raise InputRefusedError(field=field, value=size, allowed=allowed)


def refuse_same_file(source: Path, target: Path, *, field: str) -> None:
    """Refuse to write over what is read, under whatever name or link.

    Raises
        InputRefusedError: both are one file.
    """
    with suppress(OSError):
        if source.samefile(target):
            raise InputRefusedError(field=field, value=target.name, allowed="another file than IN")


@contextmanager
def written_whole(path: Path, *, field: str) -> Iterator[TextIO]:
    """Open a text for writing that takes its place only when all of it is written.

    A link stays a link: the file it leads to is replaced. A pipe or a device such as /dev/stdout is
    written to as it is.

    Raises
        InputRefusedError: the path is a folder, a disk or a socket.
        OSError: the folder is not there, not writable, or full; the old file is left as it was.
    """
    mode = _mode_of(path)
    if stat.S_ISCHR(mode) or stat.S_ISFIFO(mode):
        with path.open("w", encoding="utf-8", newline="") as out:
            yield out
        return
    if mode and not stat.S_ISREG(mode):
        _refuse_kind(path, mode, field)
    target = path.resolve()
    part = _Part(target.parent)
    try:
        with os.fdopen(part.handle, "w", encoding="utf-8", newline="", closefd=False) as out:
            yield out
            out.flush()
            os.fsync(part.handle)
        part.put_at(target)
    finally:
        part.drop()


class _Part:
    """What is written so far: a file without a name where there can be one, else a hidden one."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._name: Path | None = None
        self.handle = self._nameless()
        if self.handle < 0:
            self.handle, name = tempfile.mkstemp(prefix=".levelgaze-", dir=folder)
            self._name = Path(name)

    def _nameless(self) -> int:
        """Open a file without a name; -1 where the system has none."""
        flag = getattr(os, "O_TMPFILE", 0)
        if not flag:
            return -1
        try:
            return os.open(self._folder, flag | os.O_RDWR, PRIVATE)
        except OSError:  # this kind of disk has none, or the folder cannot be written: mkstemp says
            return -1

    def put_at(self, target: Path) -> None:
        """Give it the name of the target, whose old content is gone at that moment."""
        if self._name is None:
            name = self._folder / f".levelgaze-{secrets.token_hex(8)}"
            # Only with a folder handle does Python call linkat, which alone can follow this link.
            opened = f"/proc/self/fd/{self.handle}"
            os.link(opened, name, src_dir_fd=self.handle, follow_symlinks=True)
            self._name = name
        self.close()
        self._name.replace(target)
        self._name = None

    def close(self) -> None:
        """Close it; Windows renames only what is closed."""
        if self.handle >= 0:
            os.close(self.handle)
            self.handle = -1

    def drop(self) -> None:
        """Leave nothing behind."""
        self.close()
        if self._name is not None:
            self._name.unlink(missing_ok=True)


def _mode_of(path: Path) -> int:
    try:
        return path.stat().st_mode
    except OSError:
        return 0


def _refuse_kind(path: Path, mode: int, field: str) -> None:
    kind = _KINDS.get(stat.S_IFMT(mode), "something else")
    raise InputRefusedError(field=field, value=f"{path.name} ({kind})", allowed="a file")
