"""Install the browser of the page tests where it is missing: `python -m tests.browser.install`.

The README's test command runs this, so that the command alone sets a fresh machine up.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

PROGRAMS = {"chromium": "chromium", "chromedriver": "chromium-driver"}
"""Each program the tests start, with the Debian package that holds it."""
WANTED = "The page tests need Chromium and its driver: as root, apt-get install " + " ".join(
    PROGRAMS.values()
)


def missing() -> list[str]:
    """Return the packages whose program is not on the PATH."""
    return [package for program, package in PROGRAMS.items() if not shutil.which(program)]


def as_root() -> list[str] | None:
    """Return what goes before a command to run it as root without a question, None if nothing."""
    if os.geteuid() == 0:
        return []
    sudo = shutil.which("sudo")
    if sudo and subprocess.run([sudo, "-n", "true"], capture_output=True).returncode == 0:
        return [sudo, "-n"]
    return None


def install() -> bool:
    """Install the packages by apt-get, and return whether both programs are there now."""
    first, apt = as_root(), shutil.which("apt-get")
    if first is None or apt is None:
        return False
    quiet = [*first, "env", "DEBIAN_FRONTEND=noninteractive", apt, "-qq"]
    for what in (["update"], ["install", "-y", "--no-install-recommends", *PROGRAMS.values()]):
        done = subprocess.run([*quiet, *what], stdout=subprocess.DEVNULL, check=False)
        if done.returncode != 0:
            return False
    return not missing()


def main() -> int:
    """Do nothing where the browser is there, else install it, else say what to install."""
    if not missing():
        return 0
    print("Installing " + " and ".join(missing()), flush=True)
    if install():
        return 0
    print(WANTED, file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
