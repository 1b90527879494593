"""What carries light and was never accepted, and what was tested before it was last disturbed."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.losses.elements import text
from fibrebook.losses.table import LossTable
from fibrebook.losses.tested_stretches import NO_DAY, Spans, days_of
from fibrebook.plant import Network
from fibrebook.plant.network import CORE
from fibrebook.plant.states import path_channel
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.words.lists import runs_of

NEVER, CHECK_ONLY, IN_PART, STALE = (
    "has light, was never tested", "has light, only a light check", "has light, tested in part only",
    "tested before it was last disturbed",
)  # fmt: skip
ACCEPTING = ("loss test", "OTDR")
SCHEMA = pa.schema(
    [
        ("site", pa.string()), ("channel", pa.string()), ("cable", pa.string()), ("cores", pa.string()),
        ("reason", pa.string()), ("tested_on", pa.date32()), ("disturbed_on", pa.date32()),
    ]
)  # fmt: skip


@analysis
def untested(seen: PlantSnapshot, site: str | None = None) -> pa.Table:
    """List what ought to be tested.

    Parameters
    ----------
    site : label of one site, or None for all

    Returns
    -------
    DataFrame, one row a cable and channel (blank: no channel) and reason: site, channel, cable, cores (in words),
    reason (has light, was never tested; has light, only a light check; has light, tested in part only: a test covers
    other cables of the channel but not this one; tested before it was last disturbed), tested_on (the newest test),
    disturbed_on (a joint, or a cord inside the stretch tested, of a later day).
    """
    return untested_table(seen)


def untested_table(seen: PlantSnapshot) -> pa.Table:
    """As `untested`, as an Arrow table."""
    net, losses, tests = seen.network, seen.losses, seen.table("tests")
    cores = _CoresTested(losses, tests)
    channel = path_channel(net)[net.core_path]
    lit = channel >= 0
    accepted = cores.accepted_on >= 0
    channels = net.ends.table("channels").num_rows
    some = np.zeros(channels, bool)
    some[channel[lit & accepted]] = True
    reason = np.full(len(lit), "", dtype=object)
    reason[lit & ~accepted] = NEVER
    reason[lit & ~accepted & cores.checked] = CHECK_ONLY
    part = lit & ~accepted & np.append(some, False)[channel]
    reason[part] = IN_PART
    reason[accepted & cores.out_of_date] = STALE
    return pa.Table.from_pylist(_rows(net, channel, reason, cores), schema=SCHEMA)


class _CoresTested:
    """Per core: the newest accepting test, what was disturbed in its stretch, and whether a light check was made."""

    def __init__(self, losses: LossTable, tests: pa.Table) -> None:
        net = losses.net
        spans = Spans(losses, tests)
        method = text(tests["method"])
        day = days_of(tests["tested_on"])
        self.accepted_on = np.full(net.ends.n_cores, NO_DAY, np.int64)
        self.disturbed_on = np.full(net.ends.n_cores, NO_DAY, np.int64)
        self.out_of_date = np.zeros(net.ends.n_cores, bool)
        self.checked = np.zeros(net.ends.n_cores, bool)
        test, core = _covered(losses, spans)
        light = method[test] == "light check"
        self.checked[core[light]] = True
        accepting = np.isin(method[test], ACCEPTING)
        test, core = test[accepting], core[accepting]
        order = np.argsort(day[test], kind="stable")  # the newest is written last
        self.accepted_on[core[order]] = spans.tested_on[test[order]]
        self.disturbed_on[core[order]] = spans.last_disturbed[test[order]]
        self.out_of_date[core[order]] = spans.out_of_date[test[order]]


def _covered(losses: LossTable, spans: Spans) -> tuple[Ints, Ints]:
    """Pairs of test and core: every core in the stretch of every test."""
    strung, joints = losses.strung, losses.net.joints
    good = np.flatnonzero(spans.known)
    first, last = (p[good] for p in spans.places)
    count = last - first
    test = np.repeat(good, count)
    place = np.repeat(first - np.concatenate([[0], np.cumsum(count)])[:-1], count) + np.arange(count.sum())
    joint = strung.joint[place]
    core = (joint >= 0) & (np.append(joints.what, -1)[joint] == CORE)
    return test[core], joints.row[joint[core]]


def _rows(net: Network, channel: Ints, reason: npt.NDArray[np.object_], cores: _CoresTested) -> list[dict[str, Any]]:
    e, groups = net.ends, defaultdict(list)
    for core in np.flatnonzero(reason != ""):
        groups[(int(e.core_cable[core]), int(channel[core]), str(reason[core]))].append(int(core))
    cables, names = e.table("cables"), e.table("channels")["channel"].to_pylist()
    out = []
    for (cable, row, why), members in groups.items():
        tested, disturbed = cores.accepted_on[members].max(), cores.disturbed_on[members].max()
        out.append(
            {
                "site": cables["site"][cable].as_py(),
                "channel": names[row] if row >= 0 else None,
                "cable": cables["cable"][cable].as_py(),
                "cores": runs_of(e.core_number[members].tolist()),
                "reason": why,
                "tested_on": _day(tested),
                "disturbed_on": _day(disturbed) if why == STALE else None,
            }
        )
    return sorted(out, key=lambda r: (r["site"], r["reason"], r["channel"] or "", r["cable"]))


def _day(days: int) -> dt.date | None:
    return dt.date(1970, 1, 1) + dt.timedelta(days=int(days)) if days > 0 else None
