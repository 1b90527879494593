"""The big firm's register, made once for all benchmarks, and the table of ratios at the end of the run."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from big_firm import firm

import fibrebook

SITES = 1000
RATIOS: list[str] = []


def make(folder: Path, sites: int) -> fibrebook.Register:
    """Write the big firm of so many sites into a new register."""
    reg = fibrebook.create(folder, name="big firm")
    with reg.edit(by="RK", why="benchmark") as edit:
        for table, rows in firm(sites).items():
            edit.put(table, rows)
    return reg


@pytest.fixture(scope="session")
def big(tmp_path_factory: pytest.TempPathFactory) -> fibrebook.Register:
    """A register of 1,000 sites and about 100,000 cores."""
    return make(tmp_path_factory.mktemp("big") / "register", SITES)


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> fibrebook.Register:
    """A register of 100 sites."""
    return make(tmp_path_factory.mktemp("small") / "register", SITES // 10)


@pytest.fixture(scope="session")
def published(big: fibrebook.Register, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The big register as one plain Parquet file a table."""
    return [Path(p) for p in big.publish(tmp_path_factory.mktemp("published"))]


@pytest.fixture(scope="session")
def floor_seconds(published: list[Path]) -> float:
    """What pyarrow needs to read the published Parquet: the yardstick of all ratios (median of nine)."""
    import statistics
    import time

    def once() -> float:
        start = time.perf_counter()
        for path in published:
            pq.read_table(path)
        return time.perf_counter() - start

    once()
    return statistics.median(once() for _ in range(9))


@pytest.fixture
def ratio(benchmark: pytest.FixtureRequest, floor_seconds: float) -> Iterator[None]:
    """After a benchmark, note its median as a multiple of the Parquet read."""
    yield
    stats = getattr(benchmark, "stats", None)
    if stats is None:
        return
    median = stats.stats.median
    benchmark.extra_info["x_parquet_read"] = round(median / floor_seconds, 2)
    RATIOS.append(f"{benchmark.name:<55} {median:8.3f} s  {median / floor_seconds:7.1f} x the Parquet read")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the ratios together."""
    if RATIOS:
        terminalreporter.section("ratios to pyarrow reading the same Parquet")
        for line in RATIOS:
            terminalreporter.write_line(line)
