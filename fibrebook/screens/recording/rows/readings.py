"""Light checks and loss tests of a cable's cores: the grid to fill, and the records it makes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.values import label_schemes
from fibrebook.records.values.to_columns import to_table
from fibrebook.screens.recording.rows.joints import Row
from fibrebook.screens.recording.rows.losses import Fault, loss_of
from fibrebook.words import labels

Tables = Mapping[str, pa.Table]
CHECK, LOSS = "light check", "loss test"
METHODS = (LOSS, CHECK)  # the commoner first
# Windows that a light source offers (IEC 61280-4-1 multimode, IEC 61280-4-2 single-mode).
MULTIMODE_NM, SINGLE_MODE_NM = "850 1300", "1310 1550"


def usual_windows(fibre_class: str | None) -> str:
    """Return the wavelengths that a cable is tested at, as they are typed: "850 1300"."""
    return MULTIMODE_NM if (fibre_class or "").upper().startswith("OM") else SINGLE_MODE_NM


def wavelengths_of(text: str) -> tuple[list[int], str]:
    """Return the wavelengths [nm] typed in a line, and what is wrong with it."""
    words = re.findall(r"[^\s,;/]+", text.replace("nm", " "))
    bad = [w for w in words if not 600 <= (labels.whole_number(w) or 0) <= 1700]
    if bad:
        return [], f"{bad[0]!r} is no wavelength: write such as 1310 1550, in nanometres"
    if len(words) > 4:
        return [], "at most four wavelengths at once"
    return [int(w) for w in words], ""


def next_labels(tables: Tables, count: int, table: str = "tests", letter: str = "T") -> list[str]:
    """Return the next labels by the firm's scheme, else in the site's own way of writing: after T0041 comes T0042."""
    there = tables[table][label_schemes.label_column(table)].to_pylist()
    return label_schemes.next_labels(table, there, site_of(tables), count, f"{letter}1")


def site_of(tables: Tables) -> Mapping[str, Any]:
    """Return the record of the one site that some tables are of; {} where there is none."""
    sites: list[dict[str, Any]] = tables["sites"].to_pylist() if "sites" in tables else []
    return sites[0] if len(sites) == 1 else {}


def readings_of(
    tables: Tables, site: str, cable: str, cores: Sequence[int], values: Sequence[Mapping[str, Any]], method: str,
    wavelengths_nm: Sequence[int], about: Mapping[str, Any],
) -> tuple[list[Row], list[Fault]]:  # fmt: skip
    """Return the test rows that a filled grid makes, and what is wrong with which cell.

    Parameters
    ----------
    values : one for each core: `loss_1310` and so on as typed, `verdict`
    about : direction, reference_method, instrument, tested_on, tested_by

    Notes
    -----
    A loss test makes a row for each figure; a light check makes one row where a verdict is given.
    """
    made: list[tuple[int, str, Row]] = []
    for i, (core, typed) in enumerate(zip(cores, values, strict=True)):
        verdict = typed.get("verdict") or None
        head = {"site": site, "cable": cable, "core": core, "method": method, "verdict": verdict, **about}
        if method == CHECK:
            if verdict:
                made.append((i, "verdict", head))
            continue
        for nm in wavelengths_nm:
            loss = loss_of(typed.get(f"loss_{nm}"))
            if loss:
                made.append((i, f"loss_{nm}", head | {"wavelength_nm": nm, "loss_db": loss}))
        if verdict and not any(loss_of(typed.get(f"loss_{nm}")) for nm in wavelengths_nm):
            made.append((i, "verdict", head))
    if not made:
        return [], []
    labels = next_labels(tables, len(made))
    rows = [row | {"test": label} for label, (_, _, row) in zip(labels, made, strict=True)]
    _, problems = to_table(KINDS["tests"], rows)
    faults: list[Fault] = []
    for p in problems:
        i, column, _ = made[p.row or 0]
        faults.append((i, column, f"{p.what}: {p.remedy}" if p.remedy else p.what))
    bad = {p.row for p in problems}
    return [r for n, r in enumerate(rows) if n not in bad], faults
