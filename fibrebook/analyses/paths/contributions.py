"""How the loss of a path comes about: every part of it, with where its figure comes from, adding up to the whole."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.losses.along import Part
from fibrebook.losses.by_tests.in_words import reckoning_text, stretch_text
from fibrebook.losses.channel_wavelengths import path_wavelength_nm
from fibrebook.losses.elements import BASES, CATALOGUE
from fibrebook.losses.table import LossTable
from fibrebook.plant.walk import Start, path_through
from fibrebook.records.references.reference_index import key_text
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import ON_ONE_PATH, Said

SCHEMA = pa.schema(
    [
        ("kind", pa.string()), ("at", pa.string()), ("name", pa.string()), ("reckoning", pa.string()),
        ("loss_db", pa.float64()), ("basis", pa.string()), ("source", pa.string()), ("sum_db", pa.float64()),
    ]
)  # fmt: skip


JOINTS = {
    "splice": ("splices", ("tray", "slot")), "pigtail splice": ("terminations", ("port", "position")),
    "connection": ("ports", ("port", "position")),
}  # fmt: skip
MISMATCH = "Senior, Optical Fiber Communications, ch. 5: core diameter and numerical aperture, all modes filled"


@analysis
def contributions(seen: PlantSnapshot, site: str, start: Said, wavelength_nm: float | None = None) -> pa.Table:
    """Tell every part of a path's loss, in the order in which light meets it.

    Parameters
    ----------
    start : ("channel", channel) or ("channel", channel, "b to a"), or a start of `trace`
    wavelength_nm : [nm]; default as in `trace`

    Returns
    -------
    DataFrame, one row a part: kind (core, cord, connection, splice, pigtail splice, mismatch, test: a
    whole stretch that a loss test tells), at, name, reckoning
    (how the figure comes about, or what it lacks), loss_db (NaN: nobody can tell it, and sum_db is at least that),
    basis (measured, recorded, catalogue), source (standard or record), sum_db (all so far). The last sum_db is the loss
    that `headroom` tells for this direction and wavelength.
    """
    return contributions_table(seen, seen.names.start(site, start, (*ON_ONE_PATH, "channel")), wavelength_nm)


def contributions_table(seen: PlantSnapshot, begin: Start, wavelength_nm: float | None = None) -> pa.Table:
    """As `contributions`, as an Arrow table."""
    losses = seen.losses
    wavelength_nm = wavelength_nm or path_wavelength_nm(losses, begin.vertex)
    teller = _Teller(losses, wavelength_nm)
    rows = [teller.row(part) for part in losses.along(path_through(seen.network, begin), wavelength_nm)]
    total = 0.0
    for row in rows:
        total += row["loss_db"] if not np.isnan(row["loss_db"]) else 0.0
        row["sum_db"] = total
    return pa.Table.from_pylist(rows, schema=SCHEMA)


class _Teller:
    """Says of each part of a loss what it is, how its figure comes about and where that comes from."""

    def __init__(self, losses: LossTable, wavelength_nm: float) -> None:
        self.net, self.values, self.wavelength_nm = losses.net, losses.values, wavelength_nm
        self.counted = losses.counted

    def row(self, part: Part) -> dict[str, Any]:
        """The row of a part, all but its running sum."""
        if part.kind == "test":
            told = self._test(part)
        elif part.kind in ("core", "cord"):
            told = self._fibre(part)
        elif part.kind == "mismatch":
            at, name, _ = self._place(part.of, part.row)
            told = {
                "at": at, "name": name, "reckoning": f"{part.from_class} into {part.fibre_class}", "source": MISMATCH
            }  # fmt: skip
        else:
            told = self._joint(part)
        return {"kind": part.kind, "loss_db": part.loss_db, "basis": BASES[part.basis], **told}

    def _test(self, part: Part) -> dict[str, Any]:
        """A stretch that a loss test tells as a whole."""
        row = self.counted.tests.slice(part.row, 1).to_pylist()[0]
        at = int(np.flatnonzero(self.counted.columns.row == part.row)[0])
        return {
            "at": row["test"],
            "name": stretch_text(row),
            "reckoning": reckoning_text(self.counted, at, part.loss_db),
            "source": "the register's own record",
        }

    def _place(self, kind: str, row: int) -> tuple[str, str, str]:
        """Where a core or cord is, its name, and how its length is known."""
        if kind == "core":
            cable = self._record("cables", int(self.net.ends.core_cable[row]))
            return cable["cable"], str(int(self.net.ends.core_number[row])), f"length {cable['length_basis'] or ''}"
        cord = self._record("patches", row)
        return cord["cord"], cord["strand"], "length recorded"

    def _fibre(self, part: Part) -> dict[str, Any]:
        at, name, told = self._place(part.kind, part.row)
        klass, nm = part.fibre_class, self.wavelength_nm
        per_km = float(self.values.attenuation_db_per_km(klass, nm)) if klass else float("nan")
        length_m = 0.0 if np.isnan(part.length_m) and part.kind == "cord" else part.length_m
        reckoning = f"{length_m:g} m x {per_km:g} dB/km ({klass or 'class not known'}, {nm:g} nm; {told})"
        if part.lacks:
            reckoning = f"not known: it {part.lacks}"
        source = str(self.values.attenuation_source([klass], [nm])[0]) if klass else ""
        return {"at": at, "name": name, "reckoning": reckoning, "source": source}

    def _joint(self, part: Part) -> dict[str, Any]:
        """How a splice or connection comes to its figure: by a record, or as the catalogue's limit."""
        kind, columns = JOINTS[part.kind]
        row = self._record(kind, part.row)
        where = {"at": row["enclosure"], "name": key_text(row, columns)}
        if part.basis != CATALOGUE:
            by, on = row.get("made_by") or "somebody", row.get("made_on") or "an unknown day"
            reckoning = f"{row.get('loss_basis') or 'recorded'} by {by} on {on}"
            return where | {"reckoning": reckoning, "source": "the register's own record"}
        array = row.get("connector") == "MPO"  # grades are of single-fibre connectors: an array has its own limit
        grade = row["grade"] if part.kind == "connection" and not array else None
        component = {
            "splice": f"{row.get('method') or ''} splice".strip(), "pigtail splice": "fusion splice",
            "connection": "array connection" if array else "connection",
        }[part.kind]  # fmt: skip
        quantity = "97 %" if grade else "limit"
        klass = ("OM3" if grade.endswith("m") else "OS2") if grade else ""
        reckoning = f"{component}, {'grade ' + grade + ', ' if grade else ''}{quantity}"
        return where | {
            "reckoning": reckoning,
            "source": self.values.joint_source(component, klass, quantity, grade or ""),
        }

    def _record(self, kind: str, row: int) -> dict[str, Any]:
        return dict(self.net.ends.table(kind).slice(row, 1).to_pylist()[0])
