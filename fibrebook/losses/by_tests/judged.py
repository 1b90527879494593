"""Every loss test against the limit of its own stretch: end connections as its reference method leaves them in it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fibrebook.light.acceptance_limits import ENDS_COUNTED, end_connections
from fibrebook.losses.elements import lengths_m, text
from fibrebook.losses.tested_stretches import Spans
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.reference.fibres import mode_of

Floats = npt.NDArray[np.float64]
VERDICTS = ("pass", "marginal", "fail", "not known")
PASS, MARGINAL, FAIL, NOT_KNOWN = range(4)
TIE_DB = 1e-9  # nearer than this, a loss is at its limit, which is within it
REASONS = (
    "",
    "no loss recorded",
    "what it was made of is not told: name two ports of one path, or a core",
    "length not known",
    "no attenuation known for this fibre at this wavelength",
    "reference method not recorded, and it decides",
    "below nothing: the reference was set with a worse cord or plug; set it again",
)


def limit_parts(spans: Spans, edition: str) -> tuple[dict[str, Floats], npt.NDArray[np.object_]]:
    """Give the limit of each test and what it is made of; and where the loss of an end stands, with how it is known.

    Parameters
    ----------
    edition : of the standard that the test is judged by, as `light.catalogue.editions` names it

    limit_db and its parts fibre_db, ends (end connections that the reference method leaves in the result), ends_db,
    connections (inner ones), connections_db, splices, splices_db; and end_db, of one end. NaN where it is not known.
    """
    tests, names = spans.tests, spans.losses.class_names
    n = tests.num_rows
    fibre_db, lacks = spans.losses.fibre_db(spans.metres, lengths_m(tests["wavelength_nm"]))
    fibre_db[lacks | np.isnan(spans.metres).any(axis=1)] = np.nan
    method, grade = text(tests["reference_method"]), text(tests["cord_grade"])
    modes = np.array([mode_of(name, values=spans.losses.values) or "" for name in names], dtype=object)
    end = end_connections(edition, grade, modes[spans.class_of] if n else modes[:0], values=spans.losses.values)
    # an end that is an interface has no connection of its own
    counted = np.array([ENDS_COUNTED.get(m, 0) for m in method.tolist()], np.float64)
    on_core = tests["from_at"].is_null().to_numpy() & tests["to_at"].is_null().to_numpy()
    ends = np.where(spans.known, np.minimum(counted, np.where(on_core, 2, spans.port_ends)), np.nan)
    parts = {
        "fibre_db": fibre_db,
        "ends": ends,
        "ends_db": ends * end.loss_db,
        "connections": spans.inner_connections,
        "connections_db": spans.inner_connections * spans.losses.values.connection_db(),
        "splices": spans.splices,
        "splices_db": spans.splices * spans.losses.values.splice_db(),
    }
    limit_db = np.array(sum(parts[k] for k in ("fibre_db", "ends_db", "connections_db", "splices_db")))
    return {"limit_db": limit_db} | parts | {"end_db": end.loss_db}, end.source


def uncertainty_db(spans: Spans) -> Floats:
    """Uncertainty of each test [dB]: its own, else the firm's, else the usual."""
    own_db = lengths_m(spans.tests["uncertainty_db"])
    return np.where(np.isnan(own_db), spans.losses.values.test_uncertainty_db, own_db)


def verdicts(spans: Spans, parts: dict[str, Floats], loss_db: Floats, sure_db: Floats) -> tuple[Ints, Ints]:
    """Verdict of each test, a number into VERDICTS, and why there is none, a number into REASONS."""
    limit_db = parts["limit_db"]
    verdict = judged(loss_db, limit_db, sure_db)
    unsaid = text(spans.tests["reference_method"]) == ""
    most = judged(loss_db, limit_db + 2 * parts["end_db"], sure_db)
    reason = np.zeros(len(verdict), np.int64)
    undecided = unsaid & (verdict != most)
    verdict[undecided] = NOT_KNOWN
    for mask, why in (
        (undecided, 5), (np.isnan(parts["fibre_db"]), 4), (np.isnan(spans.metres).any(axis=1), 3),
        (~spans.known, 2), (np.isnan(loss_db), 1),
    ):  # fmt: skip
        reason[mask] = why
        if why in (1, 2, 3, 4):
            verdict[mask] = NOT_KNOWN
    below = loss_db < -sure_db
    reason[below], verdict[below] = 6, NOT_KNOWN
    return verdict, reason


def judged(loss_db: Floats, limit_db: Floats, uncertainty_db: Floats) -> Ints:
    """Return PASS where loss and uncertainty stay within the limit, FAIL where they are over it, else MARGINAL."""
    over_db = loss_db - limit_db
    sure = np.abs(over_db) >= uncertainty_db - TIE_DB
    with np.errstate(invalid="ignore"):
        found = np.where(~sure, MARGINAL, np.where(over_db <= TIE_DB, PASS, FAIL))
    return np.where(np.isnan(over_db), NOT_KNOWN, found).astype(np.int64)
