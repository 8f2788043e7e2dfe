"""The roster under a distributed engine, run for real: the same bytes for every split."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.errors import InputRefusedError
from engine.roster.answer import Settings
from engine.roster.command import on_cluster
from engine.roster.file import run_file
from tests.roster_examples import roster, with_unknowns, written

pytestmark = pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
ROWS = 40


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("cluster")
    return written(with_unknowns(roster(ROWS, seed=3)), folder / "in.csv")


@pytest.fixture(scope="module")
def alone(source: Path) -> bytes:
    target = source.with_name("alone.csv")
    run_file(source, target, settings=Settings(draws=2))
    return target.read_bytes()


@pytest.fixture(scope="module")
def mapper() -> Iterator[object]:
    """The workers of a scheduler that was started elsewhere, as a user has one."""
    from distributed import LocalCluster  # a third of a second in every process of tests

    cluster = LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
        silence_logs=logging.CRITICAL,
    )
    with cluster:
        before = listening_here()
        with on_cluster(cluster.scheduler_address) as found:
            yield found
            assert listening_here() == before, "this program opens no port of its own"


def listening_here() -> set[str]:
    """Return the sockets of this process that wait for a caller, by the system's own table."""
    mine = {one.readlink().name for one in Path("/proc/self/fd").iterdir() if one.is_symlink()}
    lines = Path("/proc/net/tcp").read_text(encoding="ascii").splitlines()[1:]
    return {line.split()[1] for line in lines if f"socket:[{line.split()[9]}]" in mine
            and line.split()[3] == "0A"}  # fmt: skip


@pytest.mark.parametrize("chunk_rows", [7, 1000])
def test_workers_and_chunks_do_not_change_a_byte(
    source: Path, tmp_path: Path, alone: bytes, mapper: object, chunk_rows: int
) -> None:
    target = tmp_path / "out.csv"
    done = run_file(
        source,
        target,
        settings=Settings(draws=2),
        chunk_rows=chunk_rows,
        mapper=mapper,  # type: ignore[arg-type]
    )
    assert target.read_bytes() == alone
    assert done.computed + done.refused + done.young == ROWS


def test_a_scheduler_that_does_not_answer_is_refused() -> None:
    refused = pytest.raises(InputRefusedError, match="--scheduler")
    with refused, on_cluster("nonsense://nowhere"):
        pass
