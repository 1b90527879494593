"""OTDR readings of joints: both ways averaged, gainers explained, the splicer's estimate beside what was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.analyses.tested.locate import no_length, otdr_start
from fibrebook.errors import InputError
from fibrebook.losses.by_tests.shots import KINDS_OF_JOINT
from fibrebook.losses.table import LossTable
from fibrebook.plant import Network
from fibrebook.records import to_frame
from fibrebook.records.references.labels_as_numbers import Index, Ints
from fibrebook.records.references.reference_index import key_text
from fibrebook.snapshot.names import Names
from fibrebook.snapshot.snapshot import PlantSnapshot, check_site
from fibrebook.words.matching import value_codes

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

SCHEMA = pa.schema(
    [
        ("site", pa.string()), ("kind", pa.string()), ("enclosure", pa.string()), ("name", pa.string()),
        ("wavelength_nm", pa.int32()), ("a_to_b_db", pa.float64()), ("b_to_a_db", pa.float64()),
        ("mean_db", pa.float64()), ("recorded_db", pa.float64()), ("recorded_basis", pa.string()),
        ("over_recorded_db", pa.float64()), ("note", pa.string()), ("tests", pa.string()),
    ]
)  # fmt: skip
GAINER = "a gainer: the fibre behind it sends more light back (smaller mode field); the other way reads too high"
ONE_WAY = "measured one way only: measure the other way and take the mean"
TRULY = "below nothing even as the mean of both ways: the markers were set wrongly, or the two shots are of two joints"
NOWHERE = "no joint of the records lies within the error of this distance"


def splice_readings(reg: Register, site: str | None = None) -> pd.DataFrame:
    """Set the events of OTDR shots beside the joints of the records.

    Returns
    -------
    DataFrame, one row a joint and wavelength, then one an event of no joint: site, kind (splice, connection),
    enclosure, name (tray/slot, port/position), wavelength_nm, a_to_b_db, b_to_a_db (the newest reading each way),
    mean_db (of both, which is the joint's loss; blank where one is lacking), recorded_db, recorded_basis (of the
    splice's own record), over_recorded_db (mean less record), note (gainers and lacks, in words), tests.
    An event belongs to the nearest joint within the error that `locate` reckons with. The loss of a joint is the mean
    of the readings of both directions (common practice; IEC 61280-4-2).
    """
    if site is not None:
        check_site(reg, site)
    out = [SCHEMA.empty_table()]
    for one in [site] if site is not None else _sites_with_events(reg):
        out.append(readings(PlantSnapshot.of(reg, one), one))
    return to_frame(pa.concat_tables(out))


def _sites_with_events(reg: Register) -> list[str]:
    there = set(reg.tables(names=["events"])["events"]["site"].unique().to_pylist())
    return [s for s in reg.sites() if s in there]


class Read(NamedTuple):
    """Events that count, those of the oldest test first, each with its test's row and the joint that it is of."""

    events: pa.Table
    tests: pa.Table  # a row for each event
    shot: Ints
    joint: Ints  # 2 * row of the joint's own table + place in KINDS_OF_JOINT; -1 = none


def readings(seen: PlantSnapshot, site: str) -> pa.Table:
    """As `splice_readings`, as an Arrow table, of one site."""
    net = seen.network
    tests, events = _plain(seen.table("tests")), _plain(seen.table("events"))
    shot, events = _of_tests(tests, events)
    start = _starts(net, site, tests, np.unique(shot))
    shot, events = shot[start[shot] >= 0], events.filter(pa.array(start[shot] >= 0))
    joint = _joints(seen.losses, start[shot], events["distance_m"].to_numpy())
    read = Read(events, tests.take(shot), shot, joint)
    return pa.concat_tables([_joint_rows(net, site, read), _strays(site, read)])


def _plain(table: pa.Table) -> pa.Table:
    """Text as plain strings, "" where blank."""
    columns = [
        pc.fill_null(c.cast(pa.string()), "") if pa.types.is_dictionary(c.type) or pa.types.is_string(c.type) else c
        for c in table.columns
    ]
    return pa.table(columns, names=table.column_names)


def _of_tests(tests: pa.Table, events: pa.Table) -> tuple[Ints, pa.Table]:
    """Events that may be of a joint and the test row of each, the oldest test first (undated ones before all)."""
    known = pc.and_(events["distance_m"].is_valid(), events["loss_db"].is_valid())
    events = events.filter(pc.and_(known, pc.invert(pc.is_in(events["what"], pa.array(["start", "end"])))))
    own, asked = value_codes([tests["test"], events["test"]])
    shot = Index(own).rows(asked)
    days = tests["tested_on"].cast(pa.int32()).fill_null(np.iinfo(np.int32).min).to_numpy()
    oldest_first = np.argsort(np.argsort(days, kind="stable"))
    order = np.argsort(np.append(oldest_first, -1)[shot], kind="stable")
    order = order[shot[order] >= 0]
    return shot[order], events.take(order)


def _starts(net: Network, site: str, tests: pa.Table, wanted: Ints) -> Ints:
    """Vertex at which the light of each shot went in: the end that its direction says, of its ports or its core; -1."""
    e = net.ends
    here = e.site_labels.ids(pa.array([site])).repeat(tests.num_rows)
    backward = pc.equal(tests["direction"], "b to a")
    at, port, position = (
        pc.if_else(backward, tests[f"to_{part}"], tests[f"from_{part}"]) for part in ("at", "port", "position")
    )
    by_port = pc.not_equal(at, "").to_numpy()
    by_core = ~by_port & pc.and_(pc.not_equal(tests["cable"], ""), tests["core"].is_valid()).to_numpy()
    core = e.core_ids(here, tests["cable"], tests["core"])[0]
    core_end = np.where(core >= 0, 2 * core + backward.to_numpy(), -1)
    found = np.where(by_port, e.plug_vertices(here, at, port, position)[0], np.where(by_core, core_end, -1))
    for i in wanted[(found[wanted] < 0) & (by_port | by_core)[wanted]]:  # only to be told what is there instead
        row = tests.slice(i, 1).to_pylist()[0]
        end = "B" if row["direction"] == "b to a" else "A"
        plug = ("port", *(c[int(i)].as_py() for c in (at, port, position)))
        found[i] = otdr_start(Names(net), site, plug if by_port[i] else ("core", row["cable"], row["core"], end)).vertex
    return found


def _joints(losses: LossTable, start: Ints, distance_m: np.ndarray) -> Ints:
    """The joint of each event, as `Read` has it, or -1.

    Raises InputError where a cable on the way of a shot has no length.
    """
    slot = losses.net.is_interface(start).astype(np.int64)
    unknown = losses.shots.without_length(start, slot)
    if len(unknown):
        raise InputError(no_length(losses.net.ends.table("cables")["cable"][int(unknown[0])].as_py()))
    found, j = losses.shots.joint_of(start, slot, distance_m), losses.shots.joints
    if not len(j.at):
        return np.full(len(start), -1, np.int64)
    return np.where(found < 0, -1, 2 * j.row[found] + j.kind[found])


def _joint_rows(net: Network, site: str, read: Read) -> pa.Table:
    """One row a joint and wavelength, connections first."""
    of = np.flatnonzero(read.joint >= 0)
    joint, nm = read.joint[of], read.tests["wavelength_nm"].fill_null(0).to_numpy()[of]
    key, part = np.unique(np.stack([joint % 2, joint // 2, nm]), axis=1, return_inverse=True)
    part = part.reshape(-1)
    backward = pc.equal(read.tests["direction"], "b to a").to_numpy()[of]
    ways = np.full((2, key.shape[1]), np.nan)
    ways[backward.astype(np.int64), part] = read.events["loss_db"].to_numpy()[of]  # of several the last, the newest
    mean = ways.mean(axis=0)
    recorded, basis = _recorded(net, key[0] == KINDS_OF_JOINT.index("splice"), key[1])
    at, name = _places(net, key[0], key[1])
    columns = {
        "site": [site] * len(at), "kind": [KINDS_OF_JOINT[k] for k in key[0].tolist()], "enclosure": at, "name": name,
        "wavelength_nm": pa.array(key[2], mask=key[2] == 0),
        "a_to_b_db": _known(ways[0]), "b_to_a_db": _known(ways[1]), "mean_db": _known(mean), "recorded_db": recorded,
        "recorded_basis": basis, "over_recorded_db": pc.subtract(_known(mean), recorded), "note": _notes(ways, mean),
        "tests": _names(part, read.shot[of], read.tests["test"].take(of)),
    }  # fmt: skip
    return pa.table(columns).cast(SCHEMA)


def _places(net: Network, kind: Ints, row: Ints) -> tuple[list[str], list[str]]:
    """Enclosure and name of each joint."""
    at, name = [""] * len(row), [""] * len(row)
    for one, (table, columns) in enumerate((("ports", ("port", "position")), ("splices", ("tray", "slot")))):
        mine = np.flatnonzero(kind == one)
        rows = net.ends.table(table).select(["enclosure", *columns]).take(pa.array(row[mine])).to_pylist()
        for i, told in zip(mine.tolist(), rows, strict=True):
            at[i], name[i] = told["enclosure"], key_text(told, columns)
    return at, name


def _known(values: np.ndarray) -> pa.Array:
    return pa.array(values, pa.float64(), from_pandas=True)


def _notes(ways: np.ndarray, mean: np.ndarray) -> pa.Array:
    """Gainers and lacks, in words."""
    one_way, below = np.isnan(mean), (ways < 0).any(axis=0)
    cases = [mean < 0, below & one_way, below, one_way]
    return pa.array(np.select(cases, [TRULY, f"{GAINER}; {ONE_WAY}", GAINER, ONE_WAY], "").astype(object), pa.string())


def _names(part: Ints, shot: Ints, test: pa.ChunkedArray) -> pa.Array:
    """Names of the tests of each part, each once, in the order in which they came."""
    _, first = np.unique(np.stack([part, shot]), axis=1, return_index=True)
    first = first[np.lexsort((first, part[first]))]
    offsets = np.append(0, np.cumsum(np.bincount(part[first]))) if len(part) else np.zeros(1, np.int64)
    lists = pa.ListArray.from_arrays(pa.array(offsets, pa.int32()), test.take(first).combine_chunks())
    return pc.binary_join(lists, ", ")


def _recorded(net: Network, splice: np.ndarray, row: Ints) -> tuple[pa.Array, pa.Array]:
    """The loss and its basis that a splice's own record holds, or the pigtail splice's at a port."""
    e = net.ends
    made = Index(e.termination_ports[0]).rows(np.where(splice, -1, e.first_plug + row))
    out = []
    for name in ("loss_db", "loss_basis"):
        both = pa.chunked_array(
            [c for t in ("splices", "terminations") for c in _column(e.table(t), name).chunks], _type(name)
        )
        at = np.where(splice, row, np.where(made < 0, -1, e.table("splices").num_rows + made))
        out.append(both.take(pa.array(at, mask=at < 0)).combine_chunks())
    return out[0], out[1]


def _column(table: pa.Table, name: str) -> pa.ChunkedArray:
    return table[name].cast(_type(name))


def _type(name: str) -> pa.DataType:
    return SCHEMA.field(f"recorded_{name.removeprefix('loss_')}").type


def _strays(site: str, read: Read) -> pa.Table:
    """One row an event of no joint."""
    of = np.flatnonzero(read.joint < 0)
    events, tests = read.events.take(of), read.tests.take(of)
    backward = pc.equal(tests["direction"], "b to a")
    name = pc.binary_join_element_wise(events["test"], events["event"], "/")
    columns: dict[str, Any] = {
        "site": [site] * len(of),
        "kind": pc.if_else(pc.equal(events["what"], ""), "event", events["what"]),
        "name": name,
        "wavelength_nm": tests["wavelength_nm"],
        "a_to_b_db": pc.if_else(backward, None, events["loss_db"]),
        "b_to_a_db": pc.if_else(backward, events["loss_db"], None),
        "note": [f"{NOWHERE}: {m:g} m" for m in events["distance_m"].to_pylist()],
        "tests": events["test"],
    }
    blank = {n: pa.nulls(len(of), SCHEMA.field(n).type) for n in SCHEMA.names if n not in columns}
    return pa.table({n: (columns | blank)[n] for n in SCHEMA.names}).cast(SCHEMA)
