"""Growth of what was once quadratic: ten times the sites cost about ten times the time."""

from __future__ import annotations

import datetime as dt
import math
import statistics
import time
from collections.abc import Callable
from typing import Any

import fibrebook
from fibrebook.analyses.advice import channels, loose_ends
from fibrebook.analyses.advice.situation import Situation
from fibrebook.analyses.spare.growth import spare_growth
from fibrebook.snapshot.snapshot import PlantSnapshot

TODAY = dt.date(2026, 6, 1)
MOST = 1.2  # exponent; 1.1 is the aim, and the smaller register's fixed costs and a shared machine blur it
CHECKS = (loose_ends.half_terminated, loose_ends.faulty_core_in_use, channels.untested)


def _runs(reg: fibrebook.Register) -> dict[str, Callable[[], Any]]:
    """What is timed, by name; the plant itself is made beforehand."""
    tables = reg.tables()
    made = (
        tables["terminations"].select(["site", "cable", "core"]).slice(0, len(tables["terminations"]) // 50).to_pylist()
    )
    with reg.edit(by="RK", why="faults") as edit:
        edit.put("cores", list({tuple(r.values()): r | {"condition": "faulty"} for r in made}.values()))
    s = Situation(PlantSnapshot(reg.tables(), TODAY))
    s.net.core_path, s.states  # noqa: B018
    runs: dict[str, Callable[[], Any]] = {c.__name__: lambda c=c: list(c(s)) for c in CHECKS}  # type: ignore[misc]
    return runs | {"spare_growth": lambda: spare_growth(reg, today=TODAY)}


def _seconds(work: Callable[[], Any]) -> float:
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def test_growth_exponents(benchmark: Any, small: fibrebook.Register, big: fibrebook.Register) -> None:
    """From 100 sites to 1,000 the exponent of growth of each stays under its bound."""
    few, many = _runs(small), _runs(big)
    found = {}
    for name in few:
        one, other = _seconds(few[name]), _seconds(many[name])
        found[name] = math.log10(other / one)
        print(
            f"{name:<24} {one * 1000:9.2f} ms at 100 sites {other * 1000:9.2f} ms at 1,000: exponent {found[name]:.2f}"
        )
    benchmark.extra_info.update(found)
    benchmark.pedantic(many["half_terminated"], rounds=3)
    assert max(found.values()) <= MOST, found
