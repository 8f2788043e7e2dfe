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
if "install" in sys.argv:
    packages = sys.argv[sys.argv.index("--no-install-recommends") + 1 :]
    if not set(packages) <= set({has!r}):
        sys.exit(100)
    for name in packages:
        (folder / name.replace("chromium-driver", "chromedriver")).write_text("")
        (folder / name.replace("chromium-driver", "chromedriver")).chmod(0o755)
"""
SHELL, WHOLE = install.BROWSERS
DRIVER = "chromedriver"
EVERYTHING = (SHELL, WHOLE, "chromium-driver")


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


def apt_get(folder: Path, *, has: tuple[str, ...] = EVERYTHING) -> None:
    add(folder, "apt-get", APT.format(python=sys.executable, has=has))


def test_where_the_best_is_there_nothing_is_done(
    machine: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    apt_get(machine)
    add(machine, SHELL)
    add(machine, DRIVER)
    assert install.main() == 0
    assert capfd.readouterr() == ("", "")
    assert not (machine / "asked").exists()


@pytest.mark.parametrize("there", [(), (SHELL,), (DRIVER,), (WHOLE, DRIVER)])
def test_root_installs_what_is_missing(
    machine: Path, monkeypatch: pytest.MonkeyPatch, there: tuple[str, ...]
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    apt_get(machine)
    for name in there:
        add(machine, name)
    assert install.main() == 0
    update, found = asked(machine)
    assert update == "-qq update"
    assert found.endswith(f" chromium-driver {SHELL}")
    assert install.browser_path() == str(machine / SHELL)


def test_where_the_best_cannot_be_had_the_other_will_do(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    apt_get(machine, has=(WHOLE, "chromium-driver"))
    assert install.main() == 0
    assert install.browser_path() == str(machine / WHOLE)
    apt_get(machine, has=())
    assert install.main() == 0


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
        apt_get(machine)
    assert install.main() == 1
    assert capfd.readouterr().err == f"{install.WANTED}\n"
    assert not (machine / "asked").exists()


def test_sudo_is_used_only_where_it_asks_nothing(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    add(machine, "sudo", '#!/bin/sh\n[ "$1" = -n ] || exit 1\nshift\nexec "$@"\n')
    (machine / "true").symlink_to("/usr/bin/true")
    apt_get(machine)
    assert install.main() == 0
    assert len(asked(machine)) == 2
    for name in (SHELL, DRIVER):
        (machine / name).unlink()
    add(machine, "sudo", "#!/bin/sh\nexit 1\n")
    assert install.main() == 1
    assert len(asked(machine)) == 2


def test_an_install_that_fails_is_told_in_one_line(
    machine: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    apt_get(machine, has=())
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
