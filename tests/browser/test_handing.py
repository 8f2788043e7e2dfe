"""`--open`: the browser gets the key past everyone else who uses the computer."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from tests.browser.harness import Browser, start_app

NOTE = """#!/bin/sh
printf '%s' "$1" > "{note}.part" && mv "{note}.part" "{note}"
"""
"""Stands in for a browser: it writes down what it was started with."""


def arguments_of_all() -> str:
    """What any user of the computer can list."""
    lines = []
    for one in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            lines.append(one.read_bytes().decode(errors="replace"))
        except OSError:
            continue
    return "\n".join(lines)


def test_the_browser_is_led_in_by_a_file_of_this_user(
    desktop: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    note, stand_in = tmp_path / "note", tmp_path / "browser"
    stand_in.write_text(NOTE.format(note=note), encoding="utf-8")
    stand_in.chmod(0o700)
    monkeypatch.setenv("BROWSER", f"{stand_in} %s")
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    with start_app("--open", enter=False) as program:
        desktop.wait_for(note.exists, "the stand-in to be started")
        led = Path(note.read_text(encoding="utf-8").removeprefix("file://"))
        key = program.entry.split("?key=")[1]
        assert key not in arguments_of_all()
        assert key in led.read_text(encoding="utf-8")
        assert stat.S_IMODE(led.stat().st_mode) == 0o600
        assert stat.S_IMODE(led.parent.stat().st_mode) == 0o700
        desktop.driver.get(led.as_uri())
        desktop.wait_for(lambda: desktop.idle() and desktop.has("stMainBlockContainer"), "a page")
        assert desktop.driver.current_url.startswith(f"http://127.0.0.1:{program.port}/")
        assert "key" not in desktop.driver.current_url
        assert key not in desktop.driver.page_source
        assert not led.parent.exists()
        desktop.driver.refresh()
        desktop.wait_for(lambda: desktop.idle() and desktop.has("stMainBlockContainer"), "a page")


def test_a_file_that_led_nobody_in_goes_with_the_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BROWSER", "true %s")
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    program = start_app("--open", enter=False)
    assert program.stop() == 0
    assert list(tmp_path.glob("levelgaze-*")) == []


def test_without_a_browser_it_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BROWSER", "false %s")
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setenv("PATH", str(tmp_path))
    program = start_app("--open", enter=False)
    assert program.process.stdout is not None
    program.said.append(program.process.stdout.readline())
    assert "Open the address above yourself" in program.said[-1]
    program.stop()
    assert list(tmp_path.glob("levelgaze-*")) == []
