"""What words mean at a site, and the path through it: where it leads out of each side, element by element."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.paths.trace import SCHEMA as PATH
from fibrebook.analyses.paths.trace import trace_table
from fibrebook.plant import STATES, Network
from fibrebook.plant.describe import describe
from fibrebook.plant.states import path_channel
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import Found, Said

FAR_END = ("kind", "at", "port", "position", "text")
SCHEMA = pa.schema(
    [
        ("start", pa.list_(pa.string())),
        (
            "reaches",
            pa.list_(
                pa.struct([("out of", pa.string()), *((n, pa.string()) for n in FAR_END), ("itself", pa.bool_())])
            ),
        ),
        ("state", pa.string()),
        ("channel", pa.struct([(n, pa.string()) for n in ("channel", "application", "purpose")])),
        ("path", pa.list_(pa.struct(list(PATH)))),
        ("loss_not_known", pa.list_(pa.string())),
    ]
)
# Out of which sides a path is told, and the slot there: a core's two ends, a port's front and rear.
SIDES = {
    "core": (("end A", 0), ("end B", 1)),
    "port": (("its front", 1), ("its rear", 0)),
    "interface": (("its front", 1),),
}


@analysis
def which(seen: PlantSnapshot, site: str, said: Said) -> pa.Table:
    """Tell what somebody's words mean, and the path through it both ways.

    Parameters
    ----------
    site : label of the site
    said : a core, port or interface as `trace` takes it; without its position, all positions of a port or interface;
        or a core by a colour and a number ("orange 7", "C1 blue 3"), as people speak of it

    Returns
    -------
    DataFrame, one row a core, port or interface position that is meant: start (the labels, as `trace` takes them),
    reaches (a list, one entry a side: out of, then kind, at, port, position and text of the far end; itself = nothing
    is joined there), state (of a core, in words), channel (its channel, application and purpose; blank where it serves
    none), path (a list of the rows of `trace`), loss_not_known (a list of the elements whose loss nobody can tell, and
    why).

    Raises NotFoundError, with the nearest names, where nothing is called so; AmbiguousError, with all, where several
    things are.
    """
    return which_table(seen, site, said)


def which_table(seen: PlantSnapshot, site: str, said: Said) -> pa.Table:
    """As `which`, as an Arrow table."""
    rows = [_told_of(seen, site, found) for found in seen.names.some(site, said, alike=1)]
    return pa.Table.from_pylist(rows, schema=SCHEMA)


def _told_of(seen: PlantSnapshot, site: str, found: Found) -> dict[str, Any]:
    net, vertex = seen.network, seen.names.begin(found).vertex
    reaches = []
    for side, slot in SIDES[found.kind]:
        far = _far(net, vertex + slot, 1) if found.kind == "core" else _far(net, vertex, slot)
        reaches.append({"out of": side, **far})
    state = STATES[seen.core_state[vertex // 2]] if found.kind == "core" else None
    row, serves = int(path_channel(net)[net.paths.label[vertex]]), None
    if row >= 0:
        channel = net.ends.table("channels").slice(row, 1).to_pylist()[0]
        serves = {name: channel[name] for name in ("channel", "application", "purpose")}
    path = trace_table(seen, site, found.start).to_pylist()
    return {
        "start": list(found.start), "reaches": reaches, "state": state, "channel": serves, "path": path,
        "loss_not_known": loss_not_known(net, path),
    }  # fmt: skip


def _far(net: Network, vertex: int, slot: int) -> dict[str, Any]:
    at = np.array([vertex], np.int64)
    far = net.paths.far(at, slot)
    told = describe(net, far, net.paths.loops[at])
    return {name: getattr(told, name)[0].as_py() for name in FAR_END} | {"itself": bool(far[0] == vertex)}


def loss_not_known(net: Network, path: Sequence[dict[str, Any]]) -> list[str]:
    """Say of each element of a path, whose loss nobody can tell, why: core K1/1 has no fibre class."""
    cores = net.ends.table("cores")
    rows = zip(*(cores[c].to_pylist() for c in ("cable", "core", "condition")), strict=True)
    faulty = {(cable, str(core)) for cable, core, condition in rows if condition == "faulty"}
    out = []
    for row in path:
        name = f"{row['kind']} {row['at']}/{row['name']}"
        unknown = row["loss_db"] is None or row["loss_db"] != row["loss_db"]
        if row["kind"] == "core" and (row["at"], row["name"]) in faulty:
            out.append(f"{name} is faulty")
        elif not unknown or row["kind"] in ("interface", "loose end"):
            continue
        elif row["kind"] not in ("core", "cord"):
            out.append(f"the loss of {name} is not known")
        elif row["length_m"] is None:
            out.append(f"{name} has no length")
        elif _is_classed(net, row):
            out.append(f"{name} has a fibre class of which no attenuation is known")
        else:
            out.append(f"{name} has no fibre class")
    return out


def _is_classed(net: Network, row: dict[str, Any]) -> bool:
    """Whether the cable of a core says some fibre class, if none that has an attenuation."""
    cables = net.ends.table("cables")
    classes = dict(zip(cables["cable"].to_pylist(), cables["fibre_class"].to_pylist(), strict=True))
    return bool(row["kind"] == "core" and classes.get(row["at"]))
