"""Losses as they are typed or pasted into a grid, and what is wrong with them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.values.to_columns import to_table

Fault = tuple[int, str, str]  # row, column, words


def loss_of(text: Any) -> str:
    """Return a loss as typed or pasted, freed of its unit and with a decimal point: "0,05 dB" -> "0.05"."""
    plain = re.sub(r"\s*dB$", "", str(text or "").strip(), flags=re.IGNORECASE)
    return re.sub(r"^([-+−]?\d*),(\d+)$", r"\1.\2", plain).replace("−", "-")


def loss_faults(losses: Sequence[tuple[int, str]]) -> list[Fault]:
    """Return what is wrong with the losses of splices, each with the row that it stands in."""
    if not losses:
        return []  # no rows have no columns, and lacking ones are no fault of a loss
    key = {"site": "-", "enclosure": "-", "tray": "-", "slot": "-", "a_cable": "-", "a_core": 1, "b_cable": "-"}
    rows = [key | {"b_core": 1, "loss_db": loss or None} for _, loss in losses]
    _, problems = to_table(KINDS["splices"], rows)
    told = ((losses[p.row or 0][0], f"{p.what}: {p.remedy}" if p.remedy else p.what) for p in problems)
    return [(i, "loss_db", words) for i, words in told]
