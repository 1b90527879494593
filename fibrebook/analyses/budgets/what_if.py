"""What would be left if a channel ran another application, or had more joints: nothing is stored."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.budgets.headroom import DIRECTIONS, load_of
from fibrebook.errors import InputError, NotFoundError
from fibrebook.losses.budget import tightness, weigh
from fibrebook.losses.channel_wavelengths import beams_of
from fibrebook.records.references.columns import coded
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

MOST = 100  # more joints than that in one question are a slip of the finger
POWERS = ("launch_min_dbm", "launch_max_dbm", "receive_min_dbm", "receive_max_dbm")


@analysis
def what_if(
    seen: PlantSnapshot,
    site: str,
    channel: str,
    application: str | None = None,
    splices: int = 0,
    connections: int = 0,
) -> pa.Table:
    """Weigh one channel as it would be with another application or with more joints.

    Parameters
    ----------
    site, channel : which channel
    application : what it would run; None = as recorded. Another one has other optics: the powers recorded of today's
        are left out, the published ones of the new application count.
    splices, connections : how many more, each at its published limit

    Returns
    -------
    DataFrame, one row a direction and wavelength, the tightest first: site, channel, application, direction,
    wavelength_nm, loss_db, added_db (of the joints added), loss_by_records_db, loss_by_tests_db, tests, tests_binding,
    tests_carried, limit_db, headroom_db, over_m, binding, length_m,
    length_max_m, too_strong_db, attenuator_db, source, not_known; as in `headroom`.
    """
    return what_if_table(seen, site, channel, application, splices, connections)


def what_if_table(
    seen: PlantSnapshot,
    site: str,
    channel: str,
    application: str | None = None,
    splices: int = 0,
    connections: int = 0,
) -> pa.Table:
    """As `what_if`, as an Arrow table; nothing is changed."""
    row = seen.names.channel_row(site, channel)
    channel = seen.table("channels")["channel"][row].as_py()
    for count, words in ((splices, "splices"), (connections, "connections")):
        if not 0 <= count <= MOST:
            raise InputError(f"{count} {words} cannot be added; give 0 to {MOST}")
    if application is not None:
        seen = _running(seen, row, _known(seen, application))
    losses, ways = seen.losses, seen.light_ways
    path = seen.network.paths.label[ways.sender]
    beams = beams_of(losses, ways, path)
    each_db = splices * seen.values.splice_db("fusion") + connections * seen.values.connection_db()
    added_db = np.where(ways.channel[beams.way] == row, each_db, 0.0)
    load = replace(load_of(seen, beams, path), added_db=added_db)
    found = weigh(losses, load, seen.values.margin_db)
    told = {
        "site": pa.array([site]).take(pa.array(np.zeros(len(beams.way), np.int64))),
        "channel": pa.array([channel]).take(pa.array(np.zeros(len(beams.way), np.int64))),
        "application": coded(beams.application, beams.names),
        "direction": coded(ways.direction[beams.way], DIRECTIONS),
        "wavelength_nm": beams.wavelength_nm,
        "loss_db": found["loss_db"],
        "added_db": added_db,
    } | {
        n: found[n]
        for n in (
            "loss_by_records_db",
            "loss_by_tests_db",
            "tests",
            "tests_binding",
            "tests_carried",
            "limit_db",
            "headroom_db",
            "over_m",
            "binding",
            "length_m",
            "length_max_m",
            "too_strong_db",
            "attenuator_db",
            "source",
            "not_known",
        )
    }
    table = pa.table({k: v if isinstance(v, pa.Array) else pa.array(v) for k, v in told.items()})
    mine = np.flatnonzero(ways.channel[beams.way] == row)
    left = tightness(np.asarray(found["headroom_db"])[mine], np.asarray(found["over_m"])[mine])
    return table.take(pa.array(mine[np.argsort(np.where(np.isnan(left), -np.inf, left), kind="stable")]))


def _known(seen: PlantSnapshot, application: str) -> str:
    name = seen.values.application_name(application)
    if name is None:
        raise NotFoundError(
            f"there is no application {application!r}; there are: {', '.join(seen.values.applications())}"
        )
    return name


def _running(seen: PlantSnapshot, row: int, application: str) -> PlantSnapshot:
    """The plant with another application on one channel; its optics' own powers are not those of the new ones."""
    channels, faces = seen.table("channels"), seen.table("interfaces")
    told = channels.slice(row, 1).to_pylist()[0]
    mine = {(told["site"], told[f"{end}_equipment"], told[f"{end}_interface"]) for end in "ab"}
    keys = zip(*(faces[c].to_pylist() for c in ("site", "equipment", "interface")), strict=True)
    changed = [key in mine for key in keys]
    faces = _with(faces, "application", changed, application)
    for column in POWERS:
        faces = _with(faces, column, changed, None)
    channels = _with(channels, "application", [i == row for i in range(channels.num_rows)], application)
    return seen.with_tables({"channels": channels, "interfaces": faces})


def _with(table: pa.Table, column: str, where: list[bool], value: Any) -> pa.Table:
    at = table.schema.get_field_index(column)
    values = [value if w else v for w, v in zip(where, table[column].to_pylist(), strict=True)]
    plain = pa.string() if isinstance(value, str) else pa.float64()
    return table.set_column(at, column, pa.chunked_array([pa.array(values, plain)]))
