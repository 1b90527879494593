"""The tests that count, in words: which, what of them binds, and what was carried over."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.losses.by_tests.chosen import TIE_DB, Chosen
from fibrebook.losses.by_tests.counted import CountedTests
from fibrebook.losses.by_tests.shots import SPLICED
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.records.references.reference_index import key_text

if TYPE_CHECKING:
    from fibrebook.losses.along import Told

Floats = npt.NDArray[np.float64]
FAILED, WORSE, OTHER_WAY = "failed", "more than the records say", "the other way"


def columns_of_tests(counted: CountedTests, chosen: Chosen | None, wavelength_nm: Floats) -> dict[str, pa.Array]:
    """Return for each row of `LossTable.of_paths`, each at its wavelength [nm], the tests that count there.

    tests (labels), tests_binding (those that failed or say that more is lost than the records do, and which of both),
    tests_carried (those made at another wavelength or the other way, and how); blank where there are none.
    """
    rows = len(wavelength_nm)
    if chosen is None or not len(chosen.beam):
        return {name: pa.nulls(rows, pa.string()) for name in ("tests", "tests_binding", "tests_carried")}
    t = counted.columns
    label = counted.labels.take(pa.array(t.row[chosen.test]))
    failed, worse = t.failed[chosen.test], chosen.over_db > TIE_DB
    how = np.where(failed, FAILED, np.where(worse, WORSE, "")).astype(object)
    binding = np.flatnonzero(failed | worse)
    carried = np.flatnonzero(chosen.carried)
    return {
        "tests": _joined(chosen.beam, label, rows),
        "tests_binding": _joined(chosen.beam[binding], _with(label, binding, how[binding]), rows),
        "tests_carried": _joined(
            chosen.beam[carried], _with(label, carried, _how(counted, chosen.only(carried), wavelength_nm)), rows
        ),
    }


def _how(counted: CountedTests, chosen: Chosen, wavelength_nm: Floats) -> npt.NDArray[np.object_]:
    """At which wavelength, where it was another, and whether the other way, tests were made."""
    nm = counted.columns.wavelength_nm[chosen.test]
    kinds, nth = np.unique(np.where(nm == wavelength_nm[chosen.beam], 0.0, nm), return_inverse=True)
    words = [
        [f"from {one:g} nm" if one else "", f"from {one:g} nm, {OTHER_WAY}" if one else OTHER_WAY] for one in kinds
    ]
    return np.array(words, dtype=object).reshape(-1, 2)[nth, chosen.other_way.astype(np.int64)]


def _with(label: pa.Array, rows: Ints, words: npt.NDArray[np.object_]) -> pa.Array:
    return pc.binary_join_element_wise(label.take(pa.array(rows)), pa.array(words, pa.string()), " ")


def _joined(beam: Ints, texts: pa.Array, rows: int) -> pa.Array:
    """Texts of each row, joined; rows rise in `beam`; blank where there are none."""
    offsets = np.append(0, np.cumsum(np.bincount(beam, minlength=rows)))
    lists = pa.ListArray.from_arrays(pa.array(offsets, pa.int32()), texts)
    joined = pc.binary_join(lists, ", ")
    return pc.if_else(pc.equal(joined, ""), pa.scalar(None, pa.string()), joined)


def notes_of(counted: CountedTests, told: Told, wavelength_nm: float) -> str:
    """What is to be said of a test that counts on one path, "" where nothing is: failed, from 850 nm, the other way."""
    nm = float(counted.columns.wavelength_nm[told.test])
    worse = WORSE if told.over_db > TIE_DB else ""
    failed = f"{FAILED}, but the records say that more is lost" if told.stands else FAILED
    words = [failed if told.failed else worse, f"from {nm:g} nm" if nm != wavelength_nm else ""]
    return ", ".join(filter(None, [*words, OTHER_WAY if told.other_way else ""]))


def part_in_words(counted: CountedTests, row: int, loss_db: float) -> dict[str, str]:
    """Tell a stretch that a test tells: at (the test), name (from where to where), reckoning; `row` into the labels."""
    test = int(np.flatnonzero(counted.columns.row == row)[0])
    told = _loss_test(counted, test, row) if row < counted.tests.num_rows else _mean(counted, row)
    name, read_db, words = told
    words.append(f"the records say {counted.columns.records_db[test]:.2f} dB")
    if abs(loss_db - max(read_db, 0.0)) > TIE_DB:
        words.append(f"reckoned from that: {loss_db:.2f} dB")
    return {"at": counted.labels[row].as_py(), "name": name, "reckoning": "; ".join(words)}


def _loss_test(counted: CountedTests, test: int, row: int) -> tuple[str, float, list[str]]:
    t, told = counted.columns, counted.tests.slice(row, 1).to_pylist()[0]
    ends = [key_text(told, tuple(f"{end}_{c}" for c in ("at", "port", "position"))) for end in ("from", "to")]
    held = int(t.at_first[test]) + int(t.at_last[test])
    words = [
        f"{told['loss_db']:g} dB at {told['wavelength_nm']} nm, {told['direction'] or 'a to b'}",
        told["reference_method"] or "reference method not recorded",
        f"by {told['tested_by'] or 'somebody'} on {told['tested_on'] or 'an unknown day'}",
        ("no end connection is in it", "one end connection is in it", "both end connections are in it")[held],
        *(["it failed"] if t.failed[test] else []),
    ]
    name = " to ".join(filter(None, ends)) or f"core {told['cable']}/{told['core']}"
    return name, float(told["loss_db"]), words


def _mean(counted: CountedTests, row: int) -> tuple[str, float, list[str]]:
    means, at = counted.means, row - counted.tests.num_rows
    joints = counted.losses.shots.joints
    splice = joints.kind[means.joint[at]] == SPLICED
    kind, columns = (
        ("splices", ("enclosure", "tray", "slot")) if splice else ("ports", ("enclosure", "port", "position"))
    )
    told = counted.losses.net.ends.table(kind).slice(int(joints.row[means.joint[at]]), 1).to_pylist()[0]
    loss_db, nm = float(means.loss_db[at]), float(means.wavelength_nm[at])
    return key_text(told, columns), loss_db, [f"{loss_db:g} dB, mean of both ways by OTDR at {nm:g} nm"]
