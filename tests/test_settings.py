"""Every option of the page library is decided, and nothing elsewhere has a say in it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from streamlit import config

from app.shell.settings import BY_PORT, OPTIONS, server_settings

DECIDED = OPTIONS.keys() | set(BY_PORT)
HOSTILE = """
[server]
enableCORS = false
enableXsrfProtection = false
enableAgentApi = true
sslCertFile = "/nowhere"
allowedHosts = ["*"]
corsAllowedOrigins = ["http://example.invalid"]
[server.trustedUserHeaders]
X-User = "name"
[browser]
serverAddress = "example.invalid"
[global]
e2eTest = true
[runner]
parallelMaxWorkers = 7
"""
VARIABLES = {
    "STREAMLIT_SERVER_ENABLE_CORS": "false",
    "STREAMLIT_SERVER_COOKIE_SECRET": "known",
    "streamlit_server_address": "0.0.0.0",
}
ASKED = """
import json, os, sys
from streamlit import config
from app.shell import internals
from app.shell.settings import server_settings
if sys.argv[1] == "kept out":
    internals.read_no_settings_of_others()
config.get_config_options(force_reparse=True, options_from_flags=server_settings(8610))
options = {name: one.value for name, one in config.get_config_options().items()}
named = sorted(name for name in os.environ if name.upper().startswith("STREAMLIT_"))
print(json.dumps({"options": options, "variables": named}, default=str))
"""


def test_every_option_of_the_installed_version_is_decided() -> None:
    """Those of the look are exempt: the content policy lets no look load anything from outside."""
    names = {
        name
        for name in config._config_options_template
        if not name.startswith("theme.") or name == "theme.base"
    }
    assert {name.split(".")[0] for name in names} >= {"server", "browser", "global", "client"}
    assert names - DECIDED == set()


def test_no_decision_is_about_an_option_that_is_gone() -> None:
    assert set(DECIDED) <= set(config._config_options_template)
    assert all(len(one.why) > 3 for one in OPTIONS.values())


def asked(folder: Path, how: str) -> dict[str, dict[str, object]]:
    """What the page library holds where a file and variables would loosen it."""
    (folder / ".streamlit").mkdir()
    (folder / ".streamlit" / "config.toml").write_text(HOSTILE, encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, "-c", ASKED, how],
        cwd=folder,
        env=os.environ | VARIABLES | {"HOME": str(folder), "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return json.loads(ran.stdout)  # type: ignore[no-any-return]


def test_what_is_set_outweighs_a_file_by_itself(tmp_path: Path) -> None:
    options = asked(tmp_path, "read")["options"]
    assert options["runner.parallelMaxWorkers"] == 7, "the file was not read: this proves nothing"
    wanted = json.loads(json.dumps(server_settings(8610), default=str))
    assert {name: options[name] for name in wanted} == wanted


def test_no_file_and_no_variable_is_read(tmp_path: Path) -> None:
    held = asked(tmp_path, "kept out")
    assert held["options"]["runner.parallelMaxWorkers"] is None
    assert len(str(held["options"]["server.cookieSecret"])) >= 32
    assert held["options"]["secrets.files"] == []
    assert held["variables"] == []
