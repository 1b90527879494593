"""The big firm's register, made once for all benchmarks, and the table of ratios at the end of the run."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest
from big_firm import firm

import fibrebook

SITES = 1000
RATIOS: dict[str, tuple[float, float]] = {}  # benchmark -> median [s], multiple of the Parquet read


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


def floor_seconds(published: list[Path]) -> list[float]:
    """What pyarrow needs to read the published Parquet: the yardstick of all ratios (nine times)."""

    def once() -> float:
        start = time.perf_counter()
        for path in published:
            pq.read_table(path)
        return time.perf_counter() - start

    once()
    return [once() for _ in range(9)]


@pytest.fixture
def ratio(benchmark: Any, published: list[Path]) -> Iterator[None]:
    """After a benchmark, note its median as a multiple of the Parquet read just before and just after it."""
    before = floor_seconds(published)
    yield
    stats = getattr(benchmark, "stats", None)
    if stats is None:
        return
    floor = statistics.median(before + floor_seconds(published))
    RATIOS[benchmark.name] = (stats.stats.median, stats.stats.median / floor)
    benchmark.extra_info["parquet_read_s"] = round(floor, 4)
    benchmark.extra_info["x_parquet_read"] = round(stats.stats.median / floor, 2)


PAIRS = (
    ("far ends: networkx to ours", "test_far_ends_by_networkx", "test_far_ends_ours"),
    ("far ends: SQLite to ours", "test_far_ends_by_sqlite", "test_far_ends_ours"),
    ("a save at 1,000 sites to one at 100", "test_save_of_one_form[big]", "test_save_of_one_form[small]"),
)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the ratios together."""
    if not RATIOS:
        return
    terminalreporter.section("ratios to pyarrow reading the same rows as one plain Parquet file a table")
    for name, (seconds, times) in RATIOS.items():
        terminalreporter.write_line(f"{name:<55} {seconds:8.3f} s  {times:7.1f} x the Parquet read")
    for words, other, own in PAIRS:
        if other in RATIOS and own in RATIOS:
            terminalreporter.write_line(f"{words:<66} {RATIOS[other][0] / RATIOS[own][0]:7.1f} x")
