"""Write a file whole or not at all, and refuse what is no file.

A part that is being written has no name where the system allows that, so not even a kill leaves it
behind; elsewhere its name is random. It is readable by its owner alone, and so is the file.
"""

from __future__ import annotations

import errno
import io
import os
import secrets
import stat
import tempfile
from contextlib import contextmanager, suppress
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

from engine import stops
from engine.errors import InputRefusedError, Limits

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import Any, TextIO

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
        raise too_large(found.st_size, most_bytes, field=field, what="a file of ")


def too_large(size_bytes: int, most_bytes: int, *, field: str, what: str = "") -> InputRefusedError:
    """Return the refusal of a file that is larger than it may be.

    what: what is said before the largest size allowed. A size is rounded up: it must read larger.

    >>> too_large(10_000_001, 10_000_000, field="file").sentence
    '10.1 MB is too large. Allowed: at most 10 MB.'
    """
    size_mb, limits = size_bytes / 1e6, Limits(high=most_bytes / 1e6, unit="MB")
    return InputRefusedError(
        field=field,
        value=f"{ceil(10.0 * size_mb) / 10.0:g} MB",
        allowed=f"{what}{limits.words}",
        limits=limits,
        number=size_mb,
    )


def refuse_same_file(source: Path, target: Path, *, field: str) -> None:
    """Refuse to write over what is read, under whatever name or link.

    Raises
        InputRefusedError: both are one file.
    """
    with suppress(OSError):
        if source.samefile(target):
            raise InputRefusedError(field=field, value=str(target), allowed="another file than IN")


@contextmanager
def written_whole(path: Path, *, field: str) -> Iterator[TextIO]:
    """Open a text for writing that takes its place only when all of it is written.

    A link stays a link: the file it leads to is replaced. A pipe or a device such as /dev/stdout is
    written to as it is. Once the text takes its place no stop is heeded any more.

    Raises
        InputRefusedError: the path is a folder, a disk or a socket.
        OSError: the folder is not there, not writable or full, by the name that was given; the old
            file is left as it was.
    """
    mode = _mode_of(path)
    if stat.S_ISCHR(mode) or stat.S_ISFIFO(mode):
        with _text(_Named(str(path), path)) as out:
            yield out
        return
    if mode and not stat.S_ISREG(mode):
        _refuse_kind(path, mode, field)
    target = path.resolve()
    with _part_beside(target, path) as part:
        with _text(part.opened(path)) as out:
            yield out
            out.flush()
            with _under_name(path):
                os.fsync(part.handle)
        with _under_name(path):
            stops.too_late()
            part.put_at(target)


def write_new(path: Path, content: bytes) -> None:
    """Write a file of a name that none has yet, whole, for this user alone.

    Once the file takes its name no stop is heeded any more.

    Raises
        FileExistsError: there is one; it is left as it is.
        OSError: it cannot be written, by the name that was given; nothing is left behind.
    """
    with _part_beside(path, path) as part:
        with part.opened(path) as out:
            out.write(content)
            with _under_name(path):
                os.fsync(part.handle)
        with _under_name(path):
            stops.too_late()
            part.put_new(path)


def removed(path: Path) -> bool:
    """Remove a file; return whether there was one.

    Raises
        OSError: it cannot be removed.
    """
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    return True


@contextmanager
def _part_beside(target: Path, path: Path) -> Iterator[_Part]:
    if not target.parent.is_dir():
        raise FileNotFoundError(errno.ENOENT, "there is no such folder", str(path))
    with _under_name(path):
        part = _Part(target.parent)
    try:
        yield part
    finally:
        part.drop()


@contextmanager
def _under_name(path: Path) -> Iterator[None]:
    """Let what fails inside name the file as it was asked for, not the part of it."""
    try:
        yield
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from None


class _Named(io.FileIO):
    """A file that is written to, whose errors name the path it was asked for by."""

    def __init__(self, file: str | int, path: Path) -> None:
        self._asked = path
        super().__init__(file, "w", closefd=isinstance(file, str))

    def write(self, data: Any, /) -> int:
        """Write, or say where that failed."""
        with _under_name(self._asked):
            return super().write(data)


def _text(file: io.FileIO) -> TextIO:
    return io.TextIOWrapper(io.BufferedWriter(file), encoding="utf-8", newline="")


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

    def opened(self, path: Path) -> io.FileIO:
        """Return it for writing; its errors name the path."""
        return _Named(self.handle, path)

    def put_at(self, target: Path) -> None:
        """Give it the name of the target, whose old content is gone at that moment."""
        if self._name is None:
            name = self._folder / f".levelgaze-{secrets.token_hex(8)}"
            self._link(name)
            self._name = name
        self.close()
        self._name.replace(target)
        self._name = None

    def put_new(self, target: Path) -> None:
        """Give it the name of the target, unless there is a file of that name.

        Raises
            FileExistsError: there is one.
        """
        try:
            self._link(target)
        except FileExistsError:
            raise
        except OSError:
            if self._name is None:
                raise
            if target.exists():
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST)) from None
            self.close()  # a disk that knows no links
            self._name.rename(target)
            self._name = None

    def _link(self, target: Path) -> None:
        if self._name is None:
            # Only with a folder handle does Python call linkat, which alone can follow this link.
            opened = f"/proc/self/fd/{self.handle}"
            os.link(opened, target, src_dir_fd=self.handle, follow_symlinks=True)
        else:
            os.link(self._name, target)

    def close(self) -> None:
        """End writing, if it is still open; Windows renames only what is closed."""
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
    raise InputRefusedError(field=field, value=str(path), allowed=f"a file; this is {kind}")
