"""How the loss of a path comes about: every part of it, with where its figure comes from, adding up to the whole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.assemble import network
from fibrebook.analyses.firm import by_the_firm
from fibrebook.analyses.mismatch import class_mismatch_db
from fibrebook.analyses.start import any_start
from fibrebook.analyses.trace import path_wavelength_nm
from fibrebook.analyses.weights import BASES, CATALOGUE, MEASURED, Weights
from fibrebook.light.catalogue import attenuation_db_per_km, attenuation_source, joint_source
from fibrebook.plant import Network
from fibrebook.plant.walk import Start, Step, path_through
from fibrebook.records import to_frame
from fibrebook.records.ends import key_text

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

SCHEMA = pa.schema(
    [
        ("kind", pa.string()), ("at", pa.string()), ("name", pa.string()), ("reckoning", pa.string()),
        ("loss_db", pa.float64()), ("basis", pa.string()), ("source", pa.string()), ("sum_db", pa.float64()),
    ]
)  # fmt: skip


@by_the_firm
def contributions(
    reg: Register, site: str, start: Sequence[object], wavelength_nm: float | None = None
) -> pd.DataFrame:
    """Tell every part of a path's loss, in the order in which light meets it.

    Parameters
    ----------
    start : ("channel", channel) or ("channel", channel, "b to a"), or a start of `trace`
    wavelength_nm : [nm]; default as in `trace`

    Returns
    -------
    DataFrame, one row a part: kind (core, cord, connection, splice, pigtail splice, mismatch), at, name, reckoning
    (how the figure comes about), loss_db, basis (measured, recorded, catalogue), source (standard or record), sum_db
    (all so far). The last sum_db is the loss that `headroom` tells for this direction and wavelength.
    """
    net = network(reg, site)
    return to_frame(contributions_table(net, any_start(net, site, start), wavelength_nm))


def contributions_table(net: Network, begin: Start, wavelength_nm: float | None = None) -> pa.Table:
    """As `contributions`, as an Arrow table, from the site's network."""
    weights = Weights(net)
    teller = _Parts(net, weights, wavelength_nm or path_wavelength_nm(net, weights, begin))
    rows = [row for step in path_through(net, begin) for row in teller.parts(step)]
    total = 0.0
    for row in rows:
        total += row["loss_db"] if not np.isnan(row["loss_db"]) else 0.0
        row["sum_db"] = total
    return pa.Table.from_pylist(rows, schema=SCHEMA)


class _Parts:
    """Turns steps of one path into parts of its loss; remembers the fibre met last for mismatches."""

    def __init__(self, net: Network, weights: Weights, wavelength_nm: float) -> None:
        self.net, self.weights, self.wavelength_nm = net, weights, wavelength_nm
        self.last_class, self.spliced_measured = "", False

    def parts(self, step: Step) -> Iterator[dict[str, Any]]:
        """The parts of one step: none, one, or a mismatch and a fibre."""
        if step.what == "core":
            cable = int(self.net.ends.core_cable[step.row])
            row = self._row("cables", cable)
            klass = self.weights.class_names[self.weights.cable_class[cable]]
            number = str(int(self.net.ends.core_number[step.row]))
            length_m = float(self.weights.core_length_m[step.row])
            yield from self._fibre("core", row["cable"], number, klass, length_m, f"length {row['length_basis'] or ''}")
        elif step.what == "patch":
            row = self._row("patches", step.row)
            length_m = float(self.weights.cord_length_m[step.row])
            klass = self.weights.class_names[self.weights.cord_class[step.row]]
            yield from self._fibre(
                "cord", row["cord"], row["strand"], klass, np.nan_to_num(length_m), "length recorded"
            )
        elif step.what == "splice":
            row = self._row("splices", step.row)
            name = key_text(row, ("tray", "slot"))
            self.spliced_measured = self.weights.splices.basis[step.row] == MEASURED
            yield self._joint("splice", row, name, self.weights.splices, step.row, f"{row['method'] or ''} splice")
        elif step.what == "termination" and self.weights.has_pigtail[step.row]:
            row = self._row("terminations", step.row)
            name = key_text(row, ("port", "position"))
            yield self._joint("pigtail splice", row, name, self.weights.pigtail_splices, step.row, "fusion splice")
        elif step.what == "port" and self.weights.mated[step.row]:
            row = self._row("ports", step.row)
            name = key_text(row, ("port", "position"))
            component = "array connection" if row["connector"] == "MPO" else "connection"
            yield self._joint("connection", row, name, self.weights.connections, step.row, component, row["grade"])

    def _row(self, kind: str, row: int) -> dict[str, Any]:
        return dict(self.net.ends.table(kind).slice(row, 1).to_pylist()[0])

    def _fibre(self, kind: str, at: str, name: str, klass: str, length_m: float, told: str) -> Iterator[dict[str, Any]]:
        lost = class_mismatch_db(self.last_class, klass) if not self.spliced_measured else 0.0
        if lost > 0:
            yield self._part(
                "mismatch", at, name, f"{self.last_class} into {klass}", lost, CATALOGUE,
                "Senior, Optical Fiber Communications, ch. 5: core diameter and numerical aperture, all modes filled",
            )  # fmt: skip
        self.last_class, self.spliced_measured = klass, False
        per_km = float(attenuation_db_per_km(klass, self.wavelength_nm)) if klass else float("nan")
        source = str(attenuation_source([klass], [self.wavelength_nm])[0]) if klass else ""
        reckoning = (
            f"{length_m:g} m x {per_km:g} dB/km ({klass or 'class not known'}, {self.wavelength_nm:g} nm; {told})"
        )
        yield self._part(kind, at, name, reckoning, length_m * per_km / 1000.0, CATALOGUE, source)

    def _joint(
        self,
        kind: str,
        row: dict[str, Any],
        name: str,
        losses: Any,
        number: int,
        component: str,
        grade: str | None = None,
    ) -> dict[str, Any]:
        basis, loss_db = int(losses.basis[number]), float(losses.loss_db[number])
        if basis == CATALOGUE:
            quantity = "97 %" if grade else "limit"
            klass = ("OM3" if grade.endswith("m") else "OS2") if grade else ""
            reckoning = f"{component.strip()}, {'grade ' + grade + ', ' if grade else ''}{quantity}"
            source = joint_source(component.strip(), klass, quantity, grade or "")
        else:
            by, on = row.get("made_by") or "somebody", row.get("made_on") or "an unknown day"
            reckoning, source = f"{row.get('loss_basis') or 'recorded'} by {by} on {on}", "the register's own record"
        return self._part(kind, row["enclosure"], name, reckoning, loss_db, basis, source)

    @staticmethod
    def _part(kind: str, at: str, name: str, reckoning: str, loss_db: float, basis: int, source: str) -> dict[str, Any]:
        return {
            "kind": kind, "at": at, "name": name, "reckoning": reckoning, "loss_db": loss_db, "basis": BASES[basis],
            "source": source,
        }  # fmt: skip
