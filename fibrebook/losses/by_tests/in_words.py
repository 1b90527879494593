"""The tests that count, in words: which, what of them binds, and what was carried over."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.losses.by_tests.chosen import TIE_DB, Chosen
from fibrebook.losses.by_tests.counted import CountedTests
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
    label = counted.tests["test"].cast(pa.string()).combine_chunks().take(pa.array(t.row[chosen.test]))
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


def stretch_text(test: dict[str, Any]) -> str:
    """From where to where a test was made: P1/1/A to P2/1/A, or C1 core 3."""
    ends = [key_text(test, tuple(f"{end}_{c}" for c in ("at", "port", "position"))) for end in ("from", "to")]
    return " to ".join(ends) if test["from_at"] else f"{test['cable']} core {test['core']}"


def reckoning_text(counted: CountedTests, test: int, loss_db: float) -> str:
    """How a test comes to the figure that it tells of its stretch; `test` is a row of `CountedTests.columns`."""
    t = counted.columns
    row = counted.tests.slice(int(t.row[test]), 1).to_pylist()[0]
    held = [word for word, there in (("first", t.at_first[test]), ("last", t.at_last[test])) if there]
    parts = [
        f"{row['loss_db']:g} dB at {row['wavelength_nm']} nm, {row['direction'] or 'a to b'}",
        f"{row['reference_method'] or 'reference method not recorded'}",
        f"by {row['tested_by'] or 'somebody'} on {row['tested_on'] or 'an unknown day'}",
    ]
    ends = {2: "both end connections are in it", 1: "one end connection is in it", 0: "no end connection is in it"}
    parts.append(ends[len(held)])
    if t.failed[test]:
        parts.append("it failed")
    parts.append(f"the records say {t.records_db[test]:.2f} dB")
    if abs(loss_db - max(row["loss_db"], 0.0)) > TIE_DB:
        parts.append(f"reckoned from that: {loss_db:.2f} dB")
    return "; ".join(parts)
