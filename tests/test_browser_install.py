"""The browser of the page tests: left alone, installed, or asked for in one line."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.browser import install

ROOT = Path(__file__).parent.parent
APT = """#!{python}
import pathlib, sys
folder = pathlib.Path(__file__).parent
with (folder / "asked").open("a") as asked:
    print(*sys.argv[1:], file=asked)
if {fails}:
    sys.exit(100)
if "install" in sys.argv:
    for name in ("chromium", "chromedriver"):
        (folder / name).write_text("")
        (folder / name).chmod(0o755)
"""


@pytest.fixture
def machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The only folder with programs in it; `env` is the one that every system has."""
    (tmp_path / "env").symlink_to("/usr/bin/env")
    monkeypatch.setenv("PATH", str(tmp_path))
    return tmp_path


def add(folder: Path, name: str, text: str = "") -> None:
    (folder / name).write_text(text, encoding="utf-8")
    (folder / name).chmod(0o755)


def asked(folder: Path) -> list[str]:
    return (folder / "asked").read_text(encoding="utf-8").splitlines()


def test_where_both_are_there_nothing_is_done(
    machine: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    add(machine, "apt-get", APT.format(python=sys.executable, fails=True))
    add(machine, "chromium")
    add(machine, "chromedriver")
    assert install.main() == 0
    assert capfd.readouterr() == ("", "")
    assert not (machine / "asked").exists()


@pytest.mark.parametrize("there", [(), ("chromium",), ("chromedriver",)])
def test_root_installs_what_is_missing(
    machine: Path, monkeypatch: pytest.MonkeyPatch, there: tuple[str, ...]
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    add(machine, "apt-get", APT.format(python=sys.executable, fails=False))
    for name in there:
        add(machine, name)
    assert install.main() == 0
    update, found = asked(machine)
    assert update == "-qq update"
    assert found.endswith(" chromium chromium-driver")


@pytest.mark.parametrize(
    ("user", "apt"), [(0, False), (1000, True)], ids=["no apt-get", "not root"]
)
def test_who_may_not_install_is_told_what_in_one_line(
    machine: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
    user: int,
    apt: bool,
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: user)
    if apt:
        add(machine, "apt-get", APT.format(python=sys.executable, fails=False))
    assert install.main() == 1
    assert capfd.readouterr().err == f"{install.WANTED}\n"
    assert not (machine / "asked").exists()


def test_sudo_is_used_only_where_it_asks_nothing(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    add(machine, "sudo", '#!/bin/sh\n[ "$1" = -n ] || exit 1\nshift\nexec "$@"\n')
    (machine / "true").symlink_to("/usr/bin/true")
    add(machine, "apt-get", APT.format(python=sys.executable, fails=False))
    assert install.main() == 0
    assert len(asked(machine)) == 2
    for name in ("chromium", "chromedriver"):
        (machine / name).unlink()
    add(machine, "sudo", "#!/bin/sh\nexit 1\n")
    assert install.main() == 1
    assert len(asked(machine)) == 2


def test_an_install_that_fails_is_told_in_one_line(
    machine: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    add(machine, "apt-get", APT.format(python=sys.executable, fails=True))
    assert install.main() == 1
    assert capfd.readouterr().err == f"{install.WANTED}\n"


def test_as_a_command_it_ends_with_status_1_and_the_line(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.browser.install"],
        env={"PATH": str(tmp_path)},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (1, f"{install.WANTED}\n")
