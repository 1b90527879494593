"""Answers for 1,000 sites and 100,000 cores, each from the files: open, read, resolve labels, solve, tell."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.parquet as pq
import pytest
from peers import joints_of, networkx_far_ends, sqlite_far_ends

import fibrebook
from fibrebook.plant import Network
from fibrebook.snapshot.snapshot import network

ANSWERS: dict[str, Callable[[Any], Any]] = {
    "cross reference": fibrebook.cross_reference,
    "spare by core": lambda reg: fibrebook.spare(reg, by="core"),
    "spare by site": lambda reg: fibrebook.spare(reg, by="site"),
    "headroom": fibrebook.headroom,
}

COLD = """
import sys
from fibrebook.records.cold import leave_pandas_out
leave_pandas_out()
import fibrebook
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.analyses.paths.trace import trace_table
reg = fibrebook.open(sys.argv[1])
found = trace_table(PlantSnapshot.of(reg, "S00500"), "S00500", ("core", "C3", 5))
assert found.num_rows, "no path"
assert "pandas" not in sys.modules
"""


@pytest.fixture(scope="module")
def net(big: fibrebook.Register) -> Network:
    """The whole register as one network."""
    return network(big)


@pytest.mark.usefixtures("ratio")
def test_floor_published_parquet(benchmark: Any, published: list[Path]) -> None:
    """The yardstick: pyarrow reads the published files."""
    benchmark(lambda: [pq.read_table(p) for p in published])


@pytest.mark.usefixtures("ratio")
def test_floor_segments(benchmark: Any, big: fibrebook.Register) -> None:
    """For comparison: pyarrow reads the register's own segment files, one by one."""
    files = list(Path(big.where).glob("tables/*/*.parquet"))
    benchmark(lambda: [pq.read_table(p) for p in files])


@pytest.mark.usefixtures("ratio")
@pytest.mark.parametrize("name", ANSWERS)
def test_answer_for_everything(benchmark: Any, big: fibrebook.Register, name: str) -> None:
    """One answer for the whole register, nothing remembered from before."""

    def fresh() -> tuple[tuple[fibrebook.Register], dict[str, Any]]:
        return (fibrebook.open(big.where),), {}

    found = benchmark.pedantic(ANSWERS[name], setup=fresh, rounds=7, warmup_rounds=1)
    assert len(found)


@pytest.mark.usefixtures("ratio")
def test_far_ends_ours(benchmark: Any, big: fibrebook.Register) -> None:
    """Both far ends of every core: labels resolved and paths solved, tables already read."""
    tables = big.tables()
    benchmark(lambda: Network(tables).paths)


@pytest.mark.usefixtures("ratio")
def test_far_ends_by_networkx(benchmark: Any, net: Network) -> None:
    """The same by networkx, joints given as numbers; the answers agree."""
    pairs, cores = joints_of(net), net.ends.n_cores
    theirs = benchmark.pedantic(networkx_far_ends, (pairs, cores), rounds=3)
    _agree(net, theirs)


@pytest.mark.usefixtures("ratio")
def test_far_ends_by_sqlite(benchmark: Any, net: Network) -> None:
    """The same by a recursive query of SQLite; the answers agree."""
    pairs, cores = joints_of(net), net.ends.n_cores
    theirs = benchmark.pedantic(sqlite_far_ends, (pairs, cores), rounds=3)
    _agree(net, theirs)


def _agree(net: Network, theirs: list[tuple[int, int]]) -> None:
    vertex = 2 * np.arange(net.ends.n_cores)
    a, b = net.paths.far(vertex, 1), net.paths.far(vertex + 1, 1)
    whole = ~net.paths.loops[vertex]
    ours = np.stack([np.minimum(a, b), np.maximum(a, b)], axis=1)
    assert (ours[whole] == np.array(theirs)[whole]).all()


@pytest.mark.usefixtures("ratio")
def test_one_site_from_a_cold_process(benchmark: Any, big: fibrebook.Register) -> None:
    """One path of one site, from the start of a new process to its end."""
    benchmark.pedantic(
        lambda: subprocess.run([sys.executable, "-c", COLD, str(big.where)], check=True), rounds=7, warmup_rounds=1
    )
