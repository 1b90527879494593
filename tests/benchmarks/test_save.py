"""A save of one form's worth of rows: it costs what its segment costs, not what the register costs."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

import fibrebook


@pytest.mark.usefixtures("ratio")
@pytest.mark.parametrize("size", ["small", "big"])
def test_save_of_one_form(benchmark: Any, request: pytest.FixtureRequest, size: str) -> None:
    """A day's 24 splices and 24 terminations in a register of 100 sites and of 1,000."""
    reg: fibrebook.Register = request.getfixturevalue(size)
    day = itertools.count(1)
    _room(reg)

    def save() -> None:
        loss = {"loss_db": round(0.01 + next(day) * 1e-4, 5), "loss_basis": "estimated", "method": "fusion"}
        with reg.edit(by="RK", why="a day's work") as edit:
            edit.put(
                "splices",
                [
                    {
                        "site": "S00042", "enclosure": "NEW-A", "tray": "1", "slot": str(i), "a_cable": "NEW-1",
                        "a_core": i, "b_cable": "NEW-2", "b_core": i, **loss,
                    }
                    for i in range(1, 25)
                ],
            )  # fmt: skip
            edit.put(
                "terminations",
                [
                    {
                        "site": "S00042", "enclosure": "NEW-B", "port": str(i), "cable": "NEW-2", "core": i,
                        **loss, "method": "spliced pigtail",
                    }
                    for i in range(1, 25)
                ],
            )  # fmt: skip

    benchmark.pedantic(save, rounds=15, warmup_rounds=2)


def _room(reg: fibrebook.Register) -> None:
    """Two new cables that meet in an enclosure, and a panel with free ports."""
    site = {"site": "S00042"}
    with reg.edit(by="RK", why="new cables") as edit:
        edit.put("enclosures", [{**site, "enclosure": e} for e in ("NEW-A", "NEW-B", "NEW-C")])
        edit.put("ports", [{**site, "enclosure": "NEW-B", "port": str(i)} for i in range(1, 25)])
        edit.put(
            "cables",
            [
                {**site, "cable": "NEW-1", "a_enclosure": "NEW-C", "b_enclosure": "NEW-A", "core_count": 24},
                {**site, "cable": "NEW-2", "a_enclosure": "NEW-A", "b_enclosure": "NEW-B", "core_count": 24},
            ],
        )
