"""Which applications would run over a path or over a spare pair: every one, yes or no, and which limit says so."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.analyses.assemble import network
from fibrebook.analyses.beams import Power
from fibrebook.analyses.firm import by_the_firm, firm_choices
from fibrebook.analyses.start import any_start
from fibrebook.analyses.weighing import Load, weigh
from fibrebook.analyses.weights import Weights, names
from fibrebook.light.catalogue import application, applications, connection_db, powers, splice_db
from fibrebook.plant import Network
from fibrebook.records import to_frame
from fibrebook.records.ends import Ints

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

Floats = npt.NDArray[np.float64]
YES, ATTENUATOR, NO, NOT_KNOWN = "yes", "with an attenuator", "no", "not known"
UNKNOWN_FIGURES = ("length not known", "fibre class not known", "path not complete", "no limit known")


@by_the_firm
def would_run(reg: Register, site: str, start: Sequence[object], other: Sequence[object] | None = None) -> pd.DataFrame:
    """Try every application on a path, with its published powers; what the path still lacks is counted in.

    Parameters
    ----------
    start : a start of `trace`, or ("channel", channel)
    other : the second strand of a pair; the poorer of the two is told

    Returns
    -------
    DataFrame, one row an application, those that run first: application, runs (yes, with an attenuator, no, not known),
    headroom_db (least of all wavelengths and directions), binding (which limit), wavelength_nm, loss_db, limit_db,
    length_m, length_max_m, fibres (of the cable that the application needs), too_strong_db, attenuator_db, adds (what
    was counted in: connections and pigtails at ends not patched or not made off yet), source.
    """
    net = network(reg, site)
    starts = [any_start(net, site, s).vertex for s in (start, other) if s is not None]
    return to_frame(would_run_table(net, starts, firm_choices(reg).margin_db))


def would_run_table(net: Network, vertices: Sequence[int], margin_db: float = 0.0) -> pa.Table:
    """As `would_run`, as an Arrow table, for the paths through some vertices."""
    weights = Weights(net)
    label = net.paths.label[np.array(vertices, np.int64)]
    lacks = [what_lacks(net, weights, int(one)) for one in label]
    apps = [application(name) for name in applications()]
    tries = [
        (i, nm, k, out)
        for i, a in enumerate(apps)
        for nm in a.all_wavelengths_nm
        for k in range(len(label))
        for out in (True, False)
    ]
    app = np.array([t[0] for t in tries], np.int64)
    strand = np.array([t[2] for t in tries], np.int64)
    load = Load(
        path=label[strand],
        outward=np.array([t[3] for t in tries]),
        application=app,
        names=[a.name for a in apps],
        wavelength_nm=np.array([t[1] for t in tries]),
        power=_powers(weights, label, strand, [a.name for a in apps], app),
        complete=~net.paths.loops[label][strand],
        added_db=np.array([db for db, _ in lacks])[strand],
    )
    found = weigh(weights, load, margin_db)
    told = {k: v.to_pylist() if isinstance(v, pa.Array) else v.tolist() for k, v in found.items()}
    rows = []
    for i, one in enumerate(apps):
        mine = np.flatnonzero(app == i)
        left = np.asarray(found["headroom_db"])[mine]
        worst = int(mine[np.argmin(np.where(np.isnan(left), -np.inf, left))])
        strong = mine[np.argmax(np.nan_to_num(np.asarray(found["too_strong_db"])[mine]))]
        row = {k: v[worst] for k, v in told.items()} | {k: told[k][strong] for k in ("too_strong_db", "attenuator_db")}
        rows.append(
            row | {"application": one.name, "fibres": one.fibres, "wavelength_nm": float(load.wavelength_nm[worst]),
                   "runs": _verdict(row), "adds": lacks[int(strand[worst])][1]}
        )  # fmt: skip
    order = {YES: 0, ATTENUATOR: 1, NO: 2, NOT_KNOWN: 3}
    rows.sort(key=lambda r: order[r["runs"]])
    columns = (
        "application", "runs", "headroom_db", "binding", "wavelength_nm", "loss_db", "limit_db", "length_m",
        "length_max_m", "fibres", "too_strong_db", "attenuator_db", "adds", "source",
    )  # fmt: skip
    return pa.table({c: pa.array([r[c] for r in rows]) for c in columns})


def _verdict(row: dict[str, object]) -> str:
    left, strong, mended = row["headroom_db"], row["too_strong_db"], row["attenuator_db"]
    if row["binding"] in UNKNOWN_FIGURES:
        return NOT_KNOWN
    if left != left or left < 0:  # type: ignore[operator]
        return NO
    if strong == strong:
        return ATTENUATOR if mended == mended else NO
    return YES


def what_lacks(net: Network, weights: Weights, label: int) -> tuple[float, str]:
    """Loss [dB] that patching a path up to equipment would still add at its two ends, and what that is in words."""
    ends = {int(v) for v in (net.paths.final[2 * label] >> 1, net.paths.final[2 * label + 1] >> 1)}
    both = [*ends] if len(ends) == 2 else [*ends] * 2  # one vertex alone has both its ends open
    connections, pigtails, total = 0, 0, 0.0
    for vertex in both:
        if vertex < net.ends.first_plug:
            pigtails += 1
            connections += 1
            total += float(splice_db("fusion")) + float(connection_db())
        elif vertex < net.first_interface:
            connections += 1
            total += float(weights.connection_limit_db[vertex - net.ends.first_plug])
    parts = [
        f"{count} {word}{'s' if count > 1 else ''}"
        for count, word in ((connections, "connection"), (pigtails, "spliced pigtail"))
        if count
    ]
    return total, names(parts)


def _powers(weights: Weights, label: Ints, strand: Ints, apps: list[str], app: Ints) -> Power:
    """Published powers of each application on the poorest fibre of each path."""
    classes = weights.class_names
    out = np.full((len(apps), len(label), 5), np.nan)
    for k, one in enumerate(label):
        here = np.flatnonzero(weights.present[one])
        for i, name in enumerate(apps):
            found = powers([name] * len(here), [classes[c] for c in here]) if len(here) else powers([name], [""])
            for column, poorest in enumerate((np.fmin, np.fmax, np.fmax, np.fmin, np.fmin)):
                out[i, k, column] = poorest.reduce(found[column])
    return Power(*(out[app, strand, column] for column in range(5)))
