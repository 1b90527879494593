"""What single joints lose as OTDR shots of both ways tell it: the mean of the newest valid reading each way.

A reading of one way alone tells nothing: where fibres differ it shows a gain one way and too much the other (common
practice; IEC 61280-4-2). A mean below nothing is a mistake. A shot is valid that is not older than the joint.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.losses.by_tests.shots import SPLICED, shot_starts
from fibrebook.losses.elements import floats_or_nan
from fibrebook.losses.tested_stretches import days_of
from fibrebook.plant.network import TERMINATION
from fibrebook.records.references.labels_as_numbers import Index, Ints, Labels

if TYPE_CHECKING:
    from fibrebook.losses.table import LossTable

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


class JointMeans(NamedTuple):
    """One row a joint and wavelength that was shot both ways.

    joint : row of `ShotsAlong.joints`; first, last : places of the splice, or of the pigtail behind a connection;
    at_first, at_last : where the connection is; wavelength_nm : [nm]; loss_db : mean of both ways; day : of the newer
    shot; label : the labels of both shots
    """

    joint: Ints
    first: Ints
    last: Ints
    at_first: Flags
    at_last: Flags
    wavelength_nm: Floats
    loss_db: Floats
    day: Ints
    label: pa.Array


def joint_means(losses: LossTable) -> JointMeans:
    """Return the means of both ways of every joint that was shot so."""
    net = losses.net
    tests, events = net.ends.table("tests"), net.ends.table("events")
    shot, loss_db, distance_m = _readings(losses, tests, events)
    start = shot_starts(losses, tests)[shot] if len(shot) else shot
    known = (start >= 0) & ~net.paths.loops[start]
    shot, loss_db, distance_m, start = shot[known], loss_db[known], distance_m[known], start[known]
    slot = net.is_interface(start).astype(np.int64)
    begin, end = losses.shots.ways(start, slot)
    joint = losses.shots.joint_of(start, slot, distance_m)
    first, last, at_first, at_last, made_on = _places(losses, joint)
    nm, day = floats_or_nan(tests["wavelength_nm"])[shot], np.maximum(days_of(tests["tested_on"]), 0)[shot]
    valid = np.flatnonzero((joint >= 0) & (first >= 0) & ~np.isnan(nm) & (day >= made_on))
    key, one = np.unique(np.stack([joint[valid], nm[valid].astype(np.int64)]), axis=1, return_inverse=True)
    newest = np.full((2, key.shape[1]), -1, np.int64)
    order = np.lexsort((valid, day[valid]))
    newest[(end >= begin)[valid].astype(np.int64)[order], one.reshape(-1)[order]] = valid[order]  # the last written
    back, there = newest[:, (newest >= 0).all(axis=0)]
    mean_db = (loss_db[back] + loss_db[there]) / 2.0
    back, there, mean_db = back[mean_db >= 0], there[mean_db >= 0], mean_db[mean_db >= 0]
    name = tests["test"].cast(pa.string()).combine_chunks()
    labels = [name.take(pa.array(shot[which])) for which in (there, back)]
    return JointMeans(
        joint[there], first[there], last[there], at_first[there], at_last[there], nm[there], mean_db,
        np.maximum(day[there], day[back]), pc.binary_join_element_wise(*labels, " and "),
    )  # fmt: skip


def _readings(losses: LossTable, tests: pa.Table, events: pa.Table) -> tuple[Ints, Floats, Floats]:
    """Test row, loss and distance of each event that may be of a joint."""
    site_of, names = losses.net.ends.site_labels, Labels()
    own, asked = names.ids(tests["test"]), names.ids(events["test"])
    sites = [site_of.ids(table["site"]) * len(names) for table in (tests, events)]
    shot = Index(sites[0] + own).rows(sites[1] + asked)
    loss_db, distance_m = floats_or_nan(events["loss_db"]), floats_or_nan(events["distance_m"])
    at_an_end = pc.is_in(events["what"].cast(pa.string()), pa.array(["start", "end"])).fill_null(False).to_numpy()
    good = (shot >= 0) & ~np.isnan(loss_db) & ~np.isnan(distance_m) & ~at_an_end
    return shot[good], loss_db[good], distance_m[good]


def _places(losses: LossTable, joint: Ints) -> tuple[Ints, Ints, Flags, Flags, Floats]:
    """What is measured of each joint: first and last place (-1: nothing that the records have), which end is a
    connection, and the newest day of what makes the joint."""
    j, strung, net = losses.shots.joints, losses.strung, losses.net
    if not len(j.at):
        none = np.full(len(joint), -1, np.int64)
        return none, none, none > 0, none > 0, np.full(len(joint), -np.inf)
    place, splice = j.at[joint] // 2, j.kind[joint] == SPLICED
    what = np.append(net.joints.what, -1)
    ahead, behind = strung.joint[place], np.append(strung.joint, -1)[place - 1]
    pigtail_ahead, pigtail_behind = what[ahead] == TERMINATION, what[behind] == TERMINATION
    mated = ~splice & np.append(losses.elements.mated, False)[np.where(splice, -1, j.row[joint])]
    there = splice | (mated & (pigtail_ahead | pigtail_behind))
    first = np.where(splice | pigtail_ahead, place, place - 1)
    day = np.append(losses.counted.spans.joint_day, -np.inf)
    made_on = np.where(splice, day[ahead], np.maximum(day[ahead], day[behind]))
    return (
        np.where(there, first, -1), np.where(there, first + 1, -1), mated & pigtail_ahead,
        mated & ~pigtail_ahead, np.asarray(made_on),
    )  # fmt: skip
