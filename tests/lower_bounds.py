"""Prove that the lowest versions of pyproject.toml install together and pass.

`python -m tests.lower_bounds` makes an environment in a temporary folder with the lowest version
that each bound allows, shows the versions, and runs tests of the engine, the files and the pages
in it. It downloads the packages and leaves nothing behind. With the tests it took 160 s of a core:
twenty minutes of the clock on a machine that had much else to do.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FILES = (
    "tests/test_app_interview.py",
    "tests/test_app_pure.py",
    "tests/test_app_team.py",
    "tests/test_case.py",
    "tests/test_exchange.py",
    "tests/test_exchange_fhir.py",
    "tests/test_plans.py",
    "tests/test_posture.py",
    "tests/test_roster.py",
    "tests/test_scene.py",
)
"""Together they use every package of the bounds of the program and of its extra for FHIR."""
TOOLS = ("hypothesis", "pytest", "pytest-xdist", "scipy")
"""What the tests themselves need, in whatever version fits."""
NO_CACHE = ("-p", "no:cacheprovider")


def lowest(requirement: str) -> str:
    """Return a requirement with its lower bound as the only version: `numpy>=2.0` -> `numpy==2.0`.

    Raises
        ValueError: it has no lower bound.
    """
    found = re.fullmatch(
        r"([\w.-]+(?:\[[\w,]+\])?)>=([\w.]+)(?:,.*)?", requirement.replace(" ", "")
    )
    if found is None:
        raise ValueError(f"{requirement} has no lower bound")
    return f"{found[1]}=={found[2]}"


def bounds() -> list[str]:
    """Return the lowest version of each package the program needs, its FHIR extra included."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [
        lowest(one) for one in project["dependencies"] + project["optional-dependencies"]["fhir"]
    ]


def main() -> int:
    """Install, show, test; return the status of the first step that fails."""
    with tempfile.TemporaryDirectory(prefix="levelgaze-bounds-") as folder:
        python = str(Path(folder, "bin", "python"))
        packages = [*bounds(), *TOOLS]
        steps = (
            [sys.executable, "-m", "venv", folder],
            [python, "-m", "pip", "install", "-q", *packages],
            [python, "-m", "pip", "list", "--not-required"],
            [python, "-m", "pytest", "-q", "-n", "2", "--plain-search", *NO_CACHE, *FILES],
        )
        for step in steps:
            status = subprocess.run(step, cwd=ROOT, check=False).returncode
            if status != 0:
                return status
    return 0


if __name__ == "__main__":
    sys.exit(main())
