"""Which applications would run over a path or over a spare pair: every one, yes or no, and which limit says so."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.light.catalogue.values import Values
from fibrebook.losses.budget import Load, tightness, weigh
from fibrebook.losses.channel_wavelengths import Power
from fibrebook.plant import Network
from fibrebook.plant.states import path_channel
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import ON_ONE_PATH, Said

Floats = npt.NDArray[np.float64]
YES, ATTENUATOR, NO, NOT_KNOWN = "yes", "with an attenuator", "no", "not known"
MORE_STRANDS = "needs more strands"  # would run on as many as it needs
UNKNOWN_FIGURES = ("length not known", "fibre class not known", "path not complete", "no limit known")


@analysis
def would_run(seen: PlantSnapshot, site: str, start: Said, other: Said | None = None) -> pa.Table:
    """Try every application on a path, with its published powers; what the path still lacks is counted in.

    Parameters
    ----------
    start : a start of `trace`, or ("channel", channel)
    other : the second strand of a pair; the poorer of the two is told

    Returns
    -------
    DataFrame, one row an application, those that run first: application, runs (yes, with an attenuator, needs more
    strands, no, not known), fibres (how many strands it needs), strands (how many there are: those asked for, all of a
    channel), headroom_db (limit_db - loss_db less the firm's margin, least of all wavelengths and directions), over_m
    (metres longer than it allows), binding (which limit), wavelength_nm, loss_db, limit_db, length_m, length_max_m,
    too_strong_db, attenuator_db, adds (what
    was counted in: connections and pigtails at ends not patched or not made off yet), source, not_known (elements whose
    loss nobody can tell; loss_db is then at least that), loss_by_records_db, loss_by_tests_db, tests, tests_binding,
    tests_carried (as in `headroom`).
    """
    kinds = (*ON_ONE_PATH, "channel")
    starts = [seen.names.start(site, s, kinds).vertex for s in (start, other) if s is not None]
    return would_run_table(seen, starts)


def would_run_table(seen: PlantSnapshot, vertices: Sequence[int]) -> pa.Table:
    """As `would_run`, as an Arrow table, for the paths through some vertices."""
    net, losses, values = seen.network, seen.losses, seen.values
    label = net.paths.label[np.array(vertices, np.int64)]
    strands = _strands(net, label)
    lacks = [losses.to_finish(int(one)) for one in label]
    apps = [values.application(name) for name in values.applications()]
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
        power=_powers(values, losses.classes_on(label), losses.class_names, strand, [a.name for a in apps], app),
        complete=~net.paths.loops[label][strand],
        added_db=np.array([db for db, _ in lacks])[strand],
    )
    found = weigh(losses, load, values.margin_db)
    told = {k: v.to_pylist() if isinstance(v, pa.Array) else v.tolist() for k, v in found.items()}
    rows = []
    for i, one in enumerate(apps):
        mine = np.flatnonzero(app == i)
        left = tightness(np.asarray(found["headroom_db"])[mine], np.asarray(found["over_m"])[mine])
        worst = int(mine[np.argmin(np.where(np.isnan(left), -np.inf, left))])
        strong = mine[np.argmax(np.nan_to_num(np.asarray(found["too_strong_db"])[mine]))]
        row = {k: v[worst] for k, v in told.items()} | {k: told[k][strong] for k in ("too_strong_db", "attenuator_db")}
        rows.append(
            row | {"application": one.name, "fibres": one.fibres, "strands": strands,
                   "wavelength_nm": float(load.wavelength_nm[worst]), "runs": _verdict(row, one.fibres > strands),
                   "adds": lacks[int(strand[worst])][1]}
        )  # fmt: skip
    order = {YES: 0, ATTENUATOR: 1, MORE_STRANDS: 2, NO: 3, NOT_KNOWN: 4}
    rows.sort(key=lambda r: order[r["runs"]])
    columns = (
        "application", "runs", "fibres", "strands", "headroom_db", "over_m", "binding", "wavelength_nm", "loss_db",
        "limit_db", "length_m", "length_max_m", "too_strong_db", "attenuator_db", "adds", "source", "not_known",
        "loss_by_records_db", "loss_by_tests_db", "tests", "tests_binding", "tests_carried",
    )  # fmt: skip
    return pa.table({c: pa.array([r[c] for r in rows]) for c in columns})


def _strands(net: Network, label: Ints) -> int:
    """How many strands there are: the paths asked for, and all those of a channel that one of them serves."""
    channel = path_channel(net)
    serves = np.unique(channel[label])
    return len(np.union1d(label, np.flatnonzero(np.isin(channel, serves[serves >= 0]))))


def _verdict(row: dict[str, object], needs_more: bool) -> str:
    left, strong, mended = row["headroom_db"], row["too_strong_db"], row["attenuator_db"]
    if row["binding"] in UNKNOWN_FIGURES:
        return NOT_KNOWN
    if left != left or left < 0 or row["over_m"] == row["over_m"]:  # type: ignore[operator]
        return NO
    if strong == strong and mended != mended:
        return NO
    if needs_more:
        return MORE_STRANDS
    if strong == strong:
        return ATTENUATOR
    return YES


def _powers(
    values: Values, present: npt.NDArray[np.bool_], classes: Sequence[str], strand: Ints, apps: list[str], app: Ints
) -> Power:
    """Published powers of each application on the poorest fibre of each path; `present` has a row a path."""
    met = np.flatnonzero(present.any(axis=0))
    names = [*(classes[k] for k in met.tolist()), ""]  # "": the poorest of all, where no fibre is told
    asked = np.repeat(np.arange(len(apps)), len(names))
    found = values.powers([apps[i] for i in asked.tolist()], names * len(apps))
    here = np.concatenate([present[:, met], np.logical_not(present.any(axis=1, keepdims=True))], axis=1)
    out = []
    for column, poorest in zip(found, (np.fmin, np.fmax, np.fmax, np.fmin, np.fmin), strict=True):
        each = np.asarray(column, np.float64).reshape(len(apps), 1, len(names))
        out.append(poorest.reduce(np.where(here[None], each, np.nan), axis=2)[app, strand])
    return Power(*out)
