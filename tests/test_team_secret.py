"""The secret of the rounding: written once, for this user alone, whole or not at all."""

from __future__ import annotations

import os
import stat
import threading
from pathlib import Path

import pytest

from engine.team import secret
from engine.team.policies import Assumptions
from engine.team.tables import published
from tests.team_examples import team


@pytest.fixture(autouse=True)
def folder(own_store: None, tmp_path: Path) -> Path:  # noqa: ARG001
    """A data folder that is not there yet."""
    return tmp_path / "data"


def test_the_first_team_answer_writes_it_for_this_user_alone(folder: Path) -> None:
    assert not folder.exists()
    published(team(people=60), Assumptions())
    assert [one.name for one in folder.iterdir()] == [secret.FILE_NAME]
    assert len(secret.path().read_bytes()) == secret.BYTES
    if os.name == "posix":
        assert stat.S_IMODE(secret.path().stat().st_mode) == 0o600
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_the_same_secret_gives_the_same_figures_and_another_does_not() -> None:
    example = team(people=200)
    before, again = (published(example, Assumptions()) for _ in range(2))
    assert [one.total for one in before] == [one.total for one in again]
    others = []
    for _ in range(4):
        assert secret.forget()
        others.append([one.total for one in published(example, Assumptions())])
    assert any(other != [one.total for one in before] for other in others)
    assert secret.forget()
    assert not secret.forget(), "there is none any more"


def test_many_sessions_at_once_agree_on_one() -> None:
    found: list[bytes] = []
    start = threading.Barrier(8)

    def ask() -> None:
        start.wait()
        found.append(secret.secret())

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(set(found)) == 1
    assert found[0] == secret.path().read_bytes()


def test_rights_given_to_others_are_taken_back() -> None:
    key = secret.secret()
    secret.path().chmod(0o644)
    assert secret.secret() == key
    if os.name == "posix":
        assert stat.S_IMODE(secret.path().stat().st_mode) == 0o600


@pytest.mark.parametrize("content", [b"", b"short", b"x" * 33])
def test_what_is_no_secret_of_ours_is_left_as_it_is(folder: Path, content: bytes) -> None:
    folder.mkdir(mode=0o700)
    secret.path().write_bytes(content)
    found = secret.secret()
    assert len(found) == secret.BYTES
    assert found == secret.secret(), "the same until the program stops"
    assert secret.path().read_bytes() == content
    assert [one.name for one in folder.iterdir()] == [secret.FILE_NAME]


def test_a_link_in_its_place_is_not_followed(folder: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_bytes(b"y" * secret.BYTES)
    folder.mkdir(mode=0o700)
    secret.path().symlink_to(elsewhere)
    assert secret.secret() != b"y" * secret.BYTES
    assert elsewhere.read_bytes() == b"y" * secret.BYTES


def test_where_no_links_are_known_it_is_renamed(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(os, "link", none)
    monkeypatch.delattr(os, "O_TMPFILE", raising=False)  # files without a name need links
    assert secret.secret() == secret.path().read_bytes()
