"""The embedded lab's database: no write is refused as "locked", and none is half there after a kill."""

import random
import time

import pytest

from tests.services.embedded_lab import EmbeddedLab


@pytest.fixture(scope="module")
def data(tmp_path_factory):
    """A data folder with the site's own database settings."""
    return EmbeddedLab(tmp_path_factory.mktemp("data"))


def close(process):
    """Close the pipes of an ended process; its exit code."""
    process.stdin.close()
    process.stdout.close()
    return process.wait(60)


def test_four_processes_of_200_read_then_write_transactions_lose_none(data):
    """With SQLite's defaults most of them end as "database is locked"."""
    writers = [data.start("-m", "tests.services.sqlite_writer", "count") for _ in range(4)]
    assert [close(writer) for writer in writers] == [0, 0, 0, 0], (data.folder / "log").read_text()[-2000:]
    numbers = data.rows("SELECT number FROM drills_drillpair WHERE half = 0 ORDER BY number")
    assert numbers == [(number,) for number in range(1, 801)]
    assert "locked" not in (data.folder / "log").read_text()


@pytest.mark.parametrize("kills", [5, pytest.param(50, marks=pytest.mark.full)])
def test_a_killed_writer_leaves_whole_transactions_only(data, kills):
    """SIGKILL at a random moment of a stream of transactions of two rows each."""
    moments = random.Random(50)
    assert data.rows("PRAGMA journal_mode") == [("wal",)]
    for _ in range(kills):
        before = data.rows("SELECT count(*) FROM drills_drillpair WHERE half = 2")[0][0]
        writer = data.start("-m", "tests.services.sqlite_writer", "pairs")
        assert writer.stdout.readline() == "writing\n"
        time.sleep(moments.uniform(0, 0.2))
        writer.kill()
        close(writer)
        assert data.rows("PRAGMA integrity_check") == [("ok",)]
        first_halves, second_halves = (
            data.rows("SELECT count(*) FROM drills_drillpair WHERE half = ?", half)[0][0] for half in (1, 2)
        )
        assert first_halves == second_halves > before
