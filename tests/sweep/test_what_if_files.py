"""Tables on the disk: whole or not at all, continued after a kill, never mixed."""

import csv
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from sweep_sites import HALL, ROOM
from sweep_sites import site as site_of

from aiming.scenario import Scenario
from aiming.sweep import Table, what_if
from aiming.sweep.candidates import Work, run_chunk
from aiming.sweep.result_store import PartialFile, TableError, cut, spool_in_memory
from aiming.sweep.run import work_of
from aiming.sweep.table import write_table
from aiming.sweep.workers import core_count, own_workers

MAIN = "speaker.main.placement."
POINTS = {"speaker.main.pattern.coverage": (50, 80, 2), MAIN + "height": [3.0, 4.0, 5.0]}
FIGURES = ("spread_db", "tilt_deg", "feasible")
SCRIPT = """
import sys
from aiming.scenario import load
from aiming.sweep import what_if
over = {"speaker.main.pattern.coverage": (50, 80, 2),
        "speaker.main.placement.height": [3.0, 4.0, 5.0]}
what_if(load(sys.argv[1]), over, figures=("spread_db", "tilt_deg", "feasible"),
        table=sys.argv[2], resume=len(sys.argv) > 3,
        progress=lambda done, rows: print(done, flush=True))
"""


def site(folder: Path, text: str = ROOM) -> Scenario:
    return site_of(folder, text)


def started(folder: Path, table: Path, *more: str) -> "subprocess.Popen[str]":
    site(folder)
    return subprocess.Popen(
        [sys.executable, "-c", SCRIPT, str(folder / "site.toml"), str(table), *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def finished(process: "subprocess.Popen[str]") -> str:
    _, errors = process.communicate(timeout=120)
    return errors


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The table of an undisturbed sweep."""
    folder = tmp_path_factory.mktemp("whole")
    what_if(site(folder), POINTS, figures=FIGURES, table=folder / "t.csv")
    assert not (folder / "t.csv.partial").exists()
    return folder / "t.csv"


def test_a_sweep_that_is_killed_again_and_again_ends_with_the_same_bytes(
    tmp_path: Path, whole: Path
) -> None:
    table = tmp_path / "t.csv"
    random = np.random.default_rng(11)
    rows_before, kills = -1, 0
    for attempt in range(3):
        process = started(tmp_path, table, *(["resume"] if attempt else []))
        assert process.stdout is not None
        first = int(process.stdout.readline() or -1)
        assert first >= rows_before  # nothing that was finished is lost
        rows_before = first
        time.sleep(float(random.uniform(0.0, 0.4)))
        if process.poll() is None:
            os.kill(process.pid, signal.SIGKILL)
            kills += 1
        errors = finished(process)
        if table.exists():
            break  # whole already, whether the kill came just after that or not at all
        assert process.returncode == -signal.SIGKILL, errors
    if not table.exists():
        assert kills >= 1
        assert finished(started(tmp_path, table, "resume")) == ""
        assert sorted(one.name for one in tmp_path.iterdir()) == ["site.toml", "t.csv"]
    assert table.read_bytes() == whole.read_bytes()


def test_a_torso_of_any_length_is_cut_off(tmp_path: Path) -> None:
    hall = site(tmp_path)
    over = {MAIN + "height": (3.0, 5.0, 0.1)}
    work = work_of(hall, over, ("spread_db",))
    good = what_if(hall, over, figures=("spread_db",), table=tmp_path / "good.csv")
    for torso in (3, 200, 280):
        table = tmp_path / "t.csv"
        partial = PartialFile(table, work.fingerprint, work.grid, 1)
        spool = partial.open(resume=False)
        for chunk in range(2):
            spool.add(good.spool.read(chunk))
        spool.close()
        partial.let_go()
        data = partial.path.read_bytes()
        partial.path.write_bytes(data[:torso])
        what_if(hall, over, figures=("spread_db",), table=table, resume=True)
        assert table.read_bytes() == (tmp_path / "good.csv").read_bytes()
        assert not partial.path.exists()
    # A block that was changed does not count (here the exponent of its first number).
    first = data.index(b"\n") + 1 + 7
    partial.path.write_bytes(data[:first] + bytes([data[first] ^ 0x40]) + data[first + 1 :])
    what_if(hall, over, figures=("spread_db",), table=table, resume=True)
    assert table.read_bytes() == (tmp_path / "good.csv").read_bytes()


def test_two_sweeps_into_one_table_do_not_mix(tmp_path: Path, whole: Path) -> None:
    table = tmp_path / "t.csv"
    one = started(tmp_path, table)
    assert one.stdout is not None and one.stdout.readline()
    with pytest.raises(TableError, match="another sweep is writing this table"):
        what_if(site(tmp_path), POINTS, figures=FIGURES, table=table, resume=True)
    other = tmp_path / "other.csv"
    what_if(site(tmp_path), {MAIN + "height": [5.0]}, figures=("spread_db",), table=other)
    assert finished(one) == ""
    assert table.read_bytes() == whole.read_bytes()
    assert len(other.read_text().splitlines()) == 2


def test_two_sweeps_of_one_process_do_not_mix(tmp_path: Path) -> None:
    work = work_of(site(tmp_path), {MAIN + "height": [5.0, 6.0]}, ("spread_db",))
    partials = [PartialFile(tmp_path / "t.csv", work.fingerprint, work.grid, 1) for _ in "ab"]
    spool = partials[0].open(resume=False)
    with pytest.raises(TableError, match="another sweep is writing"):
        partials[1].open(resume=True)
    partials[0].let_go()
    spool.close()
    partials[1].open(resume=True).close()
    partials[1].let_go()


def test_what_is_left_is_only_gone_on_with_when_asked(tmp_path: Path) -> None:
    hall = site(tmp_path)
    table = tmp_path / "t.csv"
    work = work_of(hall, {MAIN + "height": [5.0, 6.0]}, ("spread_db",))
    partial = PartialFile(table, work.fingerprint, work.grid, 1)
    partial.open(resume=False).close()
    partial.let_go()
    with pytest.raises(TableError, match="not finished; --resume"):
        what_if(hall, {MAIN + "height": [5.0, 6.0]}, figures=("spread_db",), table=table)
    with pytest.raises(TableError, match="left by another sweep"):
        what_if(hall, {MAIN + "height": [5.0]}, figures=("spread_db",), table=table, resume=True)
    hall = site(tmp_path, ROOM.replace("weight = 0.7", "weight = 0.8"))
    with pytest.raises(TableError, match="left by another sweep"):
        what_if(
            hall, {MAIN + "height": [5.0, 6.0]}, figures=("spread_db",), table=table, resume=True
        )
    partial.path.write_text("my notes\n")
    with pytest.raises(TableError, match="not the file of a sweep"):
        what_if(hall, {MAIN + "height": [5.0]}, figures=("spread_db",), table=table, resume=True)
    assert partial.path.read_text() == "my notes\n"


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("missing/t.csv", "there is no folder"),
        ("site.toml/t.csv", "there is no folder"),
        ("t.txt", "ends in .csv or .parquet"),
        ("folder.csv", "a folder"),
    ],
)
def test_a_table_that_cannot_be_is_refused_at_once(tmp_path: Path, name: str, message: str) -> None:
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(TableError, match=message):
        what_if(site(tmp_path), {MAIN + "height": [5.0]}, table=tmp_path / name)


def test_a_folder_without_permission_gives_one_message(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_args: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("aiming.sweep.result_store.os.open", refused)
    with pytest.raises(TableError, match=r"t.csv: cannot be written \(Permission denied\)"):
        what_if(site(tmp_path), {MAIN + "height": [5.0]}, table=tmp_path / "t.csv")


@pytest.fixture
def small_disk() -> Iterator[None]:
    """No file may grow beyond 1 kB: the write fails as it does on a full disk."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1]))
    yield
    resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_a_full_disk_leaves_the_earlier_table_and_what_is_done(
    tmp_path: Path, small_disk: None
) -> None:
    hall, table = site(tmp_path), tmp_path / "t.csv"
    table.write_text("earlier\n")
    over = {"speaker.main.pattern.coverage": (50, 80, 1), MAIN + "height": [4.0, 5.0]}
    with pytest.raises(TableError, match=r"t\.csv: cannot be written"):
        what_if(hall, over, figures=("spread_db", "tilt_deg"), table=table, replace=True)
    assert table.read_text() == "earlier\n"
    left = sorted(one.name for one in tmp_path.iterdir())
    assert left == ["site.toml", "t.csv", "t.csv.partial"]
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (before[1], before[1]))
    done = []
    what_if(
        hall,
        over,
        figures=("spread_db", "tilt_deg"),
        table=table,
        resume=True,
        progress=lambda rows, _all: done.append(rows),
    )
    assert done[0] >= 32
    assert len(table.read_text().splitlines()) == 63


def test_a_disk_that_is_full_at_the_end_leaves_the_earlier_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = tmp_path / "t.csv"
    table.write_text("earlier\n")

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("aiming.sweep.table.os.fsync", full)
    with pytest.raises(TableError, match="No space left on device"):
        what_if(site(tmp_path), {MAIN + "height": [5.0]}, table=table, replace=True)
    assert table.read_text() == "earlier\n"
    assert sorted(one.name for one in tmp_path.iterdir()) == [
        "site.toml",
        "t.csv",
        "t.csv.partial",
    ]


def test_ctrl_c_keeps_what_is_done(tmp_path: Path, whole: Path) -> None:
    table = tmp_path / "t.csv"

    def stop(done: int, _rows: int) -> None:
        if done >= 32:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        what_if(site(tmp_path), POINTS, figures=FIGURES, table=table, progress=stop)
    assert not table.exists()
    first = []
    what_if(
        site(tmp_path),
        POINTS,
        figures=FIGURES,
        table=table,
        resume=True,
        progress=lambda done, _rows: first.append(done),
    )
    assert first[0] == 45
    assert table.read_bytes() == whole.read_bytes()


def test_a_csv_reads_back(tmp_path: Path) -> None:
    hall, path = site(tmp_path, HALL), tmp_path / "t.csv"
    over = {
        'seating."gallery".ears': ["seated", "1.3 m"],
        MAIN + "orientation": ["upright", "flipped"],
        MAIN + "tilt": [[-20, 0], -12.5, [80, 85]],
        MAIN + "height": [6.0],
    }
    figures = ("spread_db", "gap_db", "feasible", "flipped", "softest_row_level_db")
    table = what_if(hall, over, figures=figures, table=path)
    lines = list(csv.reader(path.read_text().splitlines()))
    assert tuple(lines[0]) == table.columns
    assert [line[2] for line in lines[1:4]] == ["[-20, 0]", "-12.5", "[80, 85]"]
    for line, row in zip(lines[1:], table.rows(range(len(table))), strict=True):
        assert line[0] == row['seating."gallery".ears'] and line[3] == "6"
        for name, text in zip(table.columns[4:], line[4:], strict=True):
            if isinstance(row[name], bool):
                assert text == str(int(row[name]))
            elif np.isnan(row[name]):
                assert text == ""
            else:
                assert float(text) == pytest.approx(row[name], abs=0.51e-4)


def test_numbers_are_written_to_their_last_decimal(tmp_path: Path) -> None:
    work = work_of(site(tmp_path), {MAIN + "tilt": (0, 5, 1)}, ("spread_db", "cautions"))
    layout = cut((6,), rows=6)
    spool = spool_in_memory(layout, 2)
    spool.add(
        np.array([[0.0, -0.00004, 12.34565, -1234.5, 1e-4, np.nan], [0, 7, 10, 123, 2, np.nan]])
    )
    write_table(Table(work.axes, work.figures, layout, spool), tmp_path / "t.csv", replace=False)
    assert (tmp_path / "t.csv").read_text().split() == [
        "speaker.main.placement.tilt,spread_db,cautions",
        "0,0.0000,0",
        "1,0.0000,7",
        "2,12.3456,10",
        "3,-1234.5000,123",
        "4,0.0001,2",
        "5,,",
    ]


def test_parquet_holds_the_same_columns(tmp_path: Path) -> None:
    import pyarrow.parquet

    hall, path = site(tmp_path), tmp_path / "t.parquet"
    over = {MAIN + "orientation": ["upright", "flipped"], MAIN + "height": [6.0, 7.0]}
    table = what_if(hall, over, figures=("spread_db", "feasible"), table=path)
    found = pyarrow.parquet.read_table(path).to_pydict()
    assert tuple(found) == table.columns
    for name in table.columns:
        assert found[name] == table[name].tolist()
    first = path.read_bytes()
    what_if(hall, over, figures=("spread_db", "feasible"), table=path, replace=True)
    assert path.read_bytes() == first


def in_a_thread(work: Work, chunk: int) -> np.ndarray:
    return run_chunk(work, chunk)


def test_every_executor_gives_the_same_table(tmp_path: Path, whole: Path) -> None:
    hall = site(tmp_path)
    with own_workers(max(2, core_count())) as pool:
        what_if(hall, POINTS, figures=FIGURES, executor=pool, table=tmp_path / "processes.csv")
    with ThreadPoolExecutor(2) as threads:
        what_if(hall, POINTS, figures=FIGURES, executor=threads, table=tmp_path / "threads.csv")
    for name in ("processes.csv", "threads.csv"):
        assert (tmp_path / name).read_bytes() == whole.read_bytes()


def test_bulk_chunks_are_alike_in_any_process(tmp_path: Path) -> None:
    hall = site(tmp_path, HALL)
    over = {MAIN + "height": (4.5, 8.0, 0.01), MAIN + "tilt": (-40.0, 10.0, 0.02)}
    figures = ("worst_band_spread_db",)
    parallel = what_if(hall, over, figures=figures)
    work = work_of(hall, over, figures)
    assert work.grid.chunks > 1
    for chunk in range(work.grid.chunks):
        assert np.array_equal(run_chunk(work, chunk), parallel.spool.read(chunk))


def test_a_local_cluster_gives_the_same_table(tmp_path: Path, whole: Path) -> None:
    distributed = pytest.importorskip("distributed")
    hall = site(tmp_path)
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        what_if(
            hall,
            POINTS,
            figures=FIGURES,
            executor=client.get_executor(),
            table=tmp_path / "t.csv",
        )
    assert (tmp_path / "t.csv").read_bytes() == whole.read_bytes()
