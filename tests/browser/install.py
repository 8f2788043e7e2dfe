"""Install the browser of the page tests where it is missing: `python -m tests.browser.install`.

The README's test command runs this, so that the command alone sets a fresh machine up.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

BROWSERS = ("chromium-headless-shell", "chromium")
"""The browsers that will do, the one first that needs a third less of a core; each a package."""
DRIVER, DRIVER_PACKAGE = "chromedriver", "chromium-driver"
WANTED = (
    "The page tests need Chromium and its driver: as root, apt-get install "
    f"{BROWSERS[0]} {DRIVER_PACKAGE}"
)


def browser_path() -> str | None:
    """Return where the best browser on the PATH is; None where there is none."""
    return next(filter(None, map(shutil.which, BROWSERS)), None)


def is_there() -> bool:
    """Return whether some browser and the driver are on the PATH."""
    return bool(browser_path() and shutil.which(DRIVER))


def as_root() -> list[str] | None:
    """Return what goes before a command to run it as root without a question, None if nothing."""
    if os.geteuid() == 0:
        return []
    sudo = shutil.which("sudo")
    if sudo and subprocess.run([sudo, "-n", "true"], capture_output=True).returncode == 0:
        return [sudo, "-n"]
    return None


def install() -> bool:
    """Install a browser and its driver by apt-get, and return whether both are there now."""
    first, apt = as_root(), shutil.which("apt-get")
    if first is None or apt is None:
        return False
    quiet = [*first, "env", "DEBIAN_FRONTEND=noninteractive", apt, "-qq"]

    def succeeds(*what: str) -> bool:
        return subprocess.run([*quiet, *what], stdout=subprocess.DEVNULL).returncode == 0

    add = ("install", "-y", "--no-install-recommends", DRIVER_PACKAGE)
    return succeeds("update") and any(succeeds(*add, one) for one in BROWSERS) and is_there()


def main() -> int:
    """Do nothing where the best browser is there, else install it, else say what to install.

    Where it cannot be installed another that is there will do.
    """
    if shutil.which(BROWSERS[0]) and shutil.which(DRIVER):
        return 0
    print(f"Installing {BROWSERS[0]} and {DRIVER_PACKAGE}", flush=True)
    if install() or is_there():
        return 0
    print(WANTED, file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
