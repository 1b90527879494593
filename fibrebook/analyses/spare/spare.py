"""What is spare: by core, by cable, by site, and between two places."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import NotFoundError
from fibrebook.plant import STATES, Network, core_states
from fibrebook.plant.states import FAULTY, IN_SERVICE, PATCHED, RESERVED, SPARE_STATES, path_channel, reserved_paths
from fibrebook.plant.strands import free_strands, places_of, strands_between
from fibrebook.plant.strands_that_fit import strands_that_fit
from fibrebook.records import to_frame
from fibrebook.records.references.columns import coded, taken
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.snapshot import PlantSnapshot, network

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

# The count columns, in the order in which the owner reads them.
COUNTED = ("in service", "patched", "reserved", "ready", "half-terminated", "unterminated", "faulty")
NOTHING_MADE_OFF = ("no free strand is made off on ports at both ends",)
NO_WAY = ("no free cores lead from one to the other",)
STATE_COLUMNS = tuple(s.replace(" ", "_").replace("-", "_") for s in COUNTED)


def spare(reg: Register, by: Literal["core", "cable", "site"] = "site", site: str | None = None) -> pd.DataFrame:
    """Tell what is spare.

    Parameters
    ----------
    by : "core", "cable" or "site"
    site : label of one site, or None for all

    Returns
    -------
    DataFrame. By core: site, cable, core, state, spare (true or false), why_not (in words, blank where spare).
    By cable or site: site (cable), one count a state (in_service, patched, reserved, ready, half_terminated,
    unterminated, faulty), spare = ready + half_terminated + unterminated, and total.
    """
    if by not in ("core", "cable", "site"):
        raise NotFoundError(f"spare is told by 'core', 'cable' or 'site', not by {by!r}")
    net = network(reg, site)
    return to_frame(spare_cores(net) if by == "core" else spare_counts(net, by))


def spare_cores(net: Network) -> pa.Table:
    """Every core with its state, whether it is spare, and why not."""
    e = net.ends
    state = core_states(net)
    cables = e.table("cables")
    return pa.table(
        {
            "site": taken(cables["site"], e.core_cable),
            "cable": taken(cables["cable"], e.core_cable),
            "core": pa.array(e.core_number.astype(np.int32)),
            "state": coded(state.astype(np.int64), STATES),
            "spare": pa.array(np.isin(state, SPARE_STATES)),
            "why_not": _why_not(net, state),
        }
    )


def _why_not(net: Network, state: np.ndarray) -> pa.Array:
    e = net.ends
    texts = [""]
    code = np.zeros(e.n_cores, np.int64)

    def say(which: np.ndarray, rows: Ints, words: list[str]) -> None:
        code[which] = len(texts) + rows[which]
        texts.extend(words)

    channels = e.table("channels")["channel"].to_pylist()
    say(state == IN_SERVICE, path_channel(net)[net.core_path], [f"serves channel {c}" for c in channels])
    say(state == PATCHED, np.zeros(e.n_cores, np.int64), ["a cord is plugged on its path"])
    said, said_core = e.table("cores"), net.said_core
    row_of = np.full(e.n_cores + 1, -1, np.int64)
    row_of[said_core[said_core >= 0]] = np.flatnonzero(said_core >= 0)
    by = reserved_paths(net)[net.core_path] - 1
    own = np.arange(e.n_cores)
    kept, cable, number = said["reserved_for"].to_pylist(), said["cable"].to_pylist(), said["core"].to_pylist()
    say(state == RESERVED, row_of[by], [_reserved_words(*r) for r in zip(kept, cable, number, strict=True)])
    fault = said["fault_m"].to_pylist()
    say(state == FAULTY, row_of[own], ["faulty" if f is None else f"faulty, {f:g} m from end A" for f in fault])
    return coded(code, texts)


def _reserved_words(kept_for: str | None, cable: str, core: int) -> str:
    return f"reserved for {kept_for} (core {core} of cable {cable})"


def spare_counts(net: Network, by: str) -> pa.Table:
    """Cores by state, one row a cable or a site; sites without cables stand with zeros."""
    e = net.ends
    cables, sites = e.table("cables"), e.table("sites")
    if by == "cable":
        group, n = e.core_cable, cables.num_rows
        keys = {"site": cables["site"], "cable": cables["cable"]}
    else:
        own, of_cable = e.site_ids("sites"), e.cable_site
        row_of_site = np.full(len(e.site_labels), -1, np.int64)
        row_of_site[own] = np.arange(sites.num_rows)
        group, n = row_of_site[of_cable][e.core_cable], sites.num_rows
        keys = {"site": sites["site"]}
    counts = np.bincount(group * len(STATES) + core_states(net), minlength=n * len(STATES)).reshape(n, len(STATES))
    columns = {c: counts[:, STATES.index(s)] for c, s in zip(STATE_COLUMNS, COUNTED, strict=True)}
    columns["spare"] = counts[:, list(SPARE_STATES)].sum(axis=1)
    columns["total"] = counts.sum(axis=1)
    return pa.table(keys | {c: pa.array(v.astype(np.int64)) for c, v in columns.items()})


def spare_between(reg: Register, site: str, here: str, there: str) -> pd.DataFrame:
    """Tell how many strands can be made end to end between two places, and which cables run out first.

    Parameters
    ----------
    site : label of the site
    here, there : labels of enclosures, or of locations (all enclosures in them)

    Returns
    -------
    DataFrame, one row a level: level ("now": ready strands that already run through; "patching": new cords inside one
    location allowed; "splicing": new splices of free core ends and new pigtails allowed, existing splices never cut),
    strands, binding (the cables of a minimum cut, joined by ", "; where no strand is left, those with nothing left),
    strands_that_fit (those that the free ports take as the panels hang; trays are not counted, since the room in them
    is not recorded), stops (what stops there being more, joined by "; ", named at zero as well).
    """
    import pandas as pd

    net = network(reg, site)
    groups = fibre_groups(net.ends.table("cables")["fibre_class"])
    names = PlantSnapshot.of(reg, site).names
    here, there = (names.label(site, said, ("enclosure", "location")) for said in (here, there))
    places, strands = places_of(net, here, there), free_strands(net)
    fit = strands_that_fit(net, places, strands, groups, fibre_groups(net.ends.table("ports")["fibre_class"]))
    rows = []
    for level, count, cables in strands_between(net, places, strands, groups):
        if level == "splicing":
            fits = fit.strands
            stops = fit.stops or tuple(f"cable {c}" for c in cables) or NO_WAY
        else:  # what is made off has its port
            fits, stops = count, tuple(f"cable {c}" for c in cables) or NOTHING_MADE_OFF
        rows.append((level, count, ", ".join(cables), fits, "; ".join(stops)))
    return pd.DataFrame(rows, columns=["level", "strands", "binding", "strands_that_fit", "stops"])


def fibre_groups(fibre_class: pa.ChunkedArray) -> list[str]:
    """Which fibre each cable's belongs with: light goes on only between fibres of one core size."""
    from fibrebook.reference.tables import table

    classes = table("fibre_classes")
    mode = dict(zip(classes["fibre_class"].to_pylist(), classes["mode"].to_pylist(), strict=True))
    core = dict(zip(classes["fibre_class"].to_pylist(), classes["core_um"].to_pylist(), strict=True))

    def group(name: str | None) -> str:
        if not name:
            return ""
        if mode.get(name) == "single-mode":
            return "single-mode"
        return f"{core[name]} um multimode" if core.get(name) else name

    names = pc.fill_null(fibre_class.cast(pa.string()), "").to_pylist()
    known = {n: group(n) for n in set(names)}
    return [known[n] for n in names]
