"""Did a link pass: every loss test against the limit of its own stretch, within what the instrument can tell."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.light.acceptance_limits import ENDS_COUNTED, end_connections
from fibrebook.light.catalogue.editions import acceptance_edition
from fibrebook.losses.elements import lengths_m, text
from fibrebook.losses.tested_stretches import Spans, days_of
from fibrebook.records.references.columns import coded
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.reference.fibres import mode_of
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

Floats = npt.NDArray[np.float64]
VERDICTS = ("pass", "marginal", "fail", "not known")
PASS, MARGINAL, FAIL, NOT_KNOWN = range(4)
SIDES = ("", "within the limit", "over the limit")
TIE_DB = 1e-9  # nearer than this, a loss is at its limit, which is within it
OWN = (
    "site", "test", "from_at", "from_port", "from_position", "to_at", "to_port", "to_position", "cable", "core",
    "wavelength_nm", "direction", "reference_method", "tested_on", "tested_by", "loss_db",
)  # fmt: skip
NAMED = ("site", "from_at", "from_port", "from_position", "to_at", "to_port", "to_position", "cable", "core")
REASONS = (
    "",
    "no loss recorded",
    "what it was made of is not told: name two ports of one path, or a core",
    "length not known",
    "no attenuation known for this fibre at this wavelength",
    "reference method not recorded, and it decides",
    "below nothing: the reference was set with a worse cord or plug; set it again",
)


@analysis
def acceptance(seen: PlantSnapshot, site: str | None = None, style: str | None = None) -> pa.Table:
    """Judge every loss test.

    Parameters
    ----------
    site : label of one site, or None for all
    style : a standard ("ISO/IEC 14763-3", "TIA-568.3": its newest edition) or an edition of it ("ISO/IEC
        14763-3:2014/Cor 1", "...:2014", "...:2006", "TIA-568.3-E", "...-D"); default the firm's choice `acceptance`,
        else the first. The newest is the default here, not the strictest (`light.catalogue.editions` says why).

    Returns
    -------
    DataFrame, one row a loss test: the columns that tell it (site, test, ports, core, wavelength_nm, direction,
    reference_method, tested_on, tested_by, loss_db), limit_db and its parts fibre_db, ends (end connections that the
    reference method leaves in the result: one-cord 2, two-cord 1, three-cord 0), ends_db, connections (inner ones),
    connections_db, splices, splices_db; margin_db (limit less loss), uncertainty_db (the test's own, else the firm's,
    else the usual), verdict (pass, marginal: nearer to the limit than the uncertainty, fail, not known), side (of the
    limit: within the limit, over the limit; blank where the verdict is not known), why, recorded_verdict, edition (of
    the standard judged by), known_from (what an end may lose: where that stands and how it is known), later_test (the
    newest of this stretch, wavelength and direction, where this one is not), mean_db (of the newest tests in both
    directions), drift_db (against the test before, same stretch, wavelength, direction and method).
    A stretch is the same however it is named: a test of a core runs to the ports that the core is made off on.
    """
    return acceptance_table(seen, style)


def acceptance_table(seen: PlantSnapshot, style: str | None = None) -> pa.Table:
    """As `acceptance`, as an Arrow table; `style` None = the firm's choice."""
    tests = seen.table("tests")
    edition = acceptance_edition(style, values=seen.values) if style else seen.values.acceptance_edition
    tests = tests.filter(pa.array(text(tests["method"]) == "loss test"))
    spans = Spans(seen.losses, tests)
    parts, known_from = _limit_parts(spans, edition)
    loss_db = lengths_m(tests["loss_db"])
    own_db = lengths_m(tests["uncertainty_db"])
    sure_db = np.where(np.isnan(own_db), seen.values.test_uncertainty_db, own_db)
    verdict, reason = _verdicts(spans, parts, loss_db, sure_db)
    table = {name: tests[name] for name in OWN}
    group = _groups(spans)
    side = np.where(verdict == NOT_KNOWN, 0, np.where(loss_db - parts["limit_db"] <= TIE_DB, 1, 2))
    table |= {
        **{k: pa.array(v) for k, v in parts.items() if k != "end_db"},
        "margin_db": pa.array(parts["limit_db"] - loss_db),
        "uncertainty_db": pa.array(sure_db),
        "verdict": coded(verdict, VERDICTS),
        "side": coded(side, SIDES),
        "why": coded(reason, REASONS),
        "recorded_verdict": tests["verdict"],
        "edition": coded(np.zeros(len(verdict), np.int64), (edition,)),
        "known_from": pa.array(known_from, pa.string()).dictionary_encode(),
        "later_test": later_tests(spans),
        "mean_db": pa.array(both_ways_mean(group, spans.forward, days_of(tests["tested_on"]), loss_db)),
        "drift_db": pa.array(since_before(group * 2 + spans.forward, days_of(tests["tested_on"]), loss_db)),
    }
    return pa.table(table)


def verdict_in_words(verdict: str, side: str) -> str:
    """Return a verdict as people read it: a marginal one says on which side of the limit."""
    return f"{verdict}, {side}" if verdict == VERDICTS[MARGINAL] else verdict


def _limit_parts(spans: Spans, edition: str) -> tuple[dict[str, Floats], npt.NDArray[np.object_]]:
    """Limit of each test and what it is made of; and where the loss of an end stands, with how it is known."""
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


def _verdicts(spans: Spans, parts: dict[str, Floats], loss_db: Floats, sure_db: Floats) -> tuple[Ints, Ints]:
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


def _groups(spans: Spans) -> Ints:
    """Number of the stretch, wavelength and reference method of each test; tests of no stretch each stand alone."""
    first, last = spans.places
    alone = np.where(spans.known, -1, np.arange(len(first)))
    nm = np.nan_to_num(lengths_m(spans.tests["wavelength_nm"]))
    method = text(spans.tests["reference_method"])
    code = np.unique(method.astype(str), return_inverse=True)[1]
    keys = np.stack([first, last, alone, nm.astype(np.int64), code])
    return np.unique(keys, axis=1, return_inverse=True)[1].reshape(-1)


def later_tests(spans: Spans) -> pa.Array:
    """Return the label of the newest test of every test's stretch, wavelength and direction, and of its method.

    Null where that is the test itself. Tests of no known stretch are held together by the names that they give it.
    """
    tests = spans.tests
    first, last = spans.places
    coded_names = [np.unique(text(tests[c].cast(pa.string())).astype(str), return_inverse=True)[1] for c in NAMED]
    own = [np.where(spans.known, -1, code) for code in coded_names]
    nm = np.nan_to_num(lengths_m(tests["wavelength_nm"]), nan=-1.0)
    method = np.unique(text(tests["method"]).astype(str), return_inverse=True)[1]
    keys = np.stack([first, last, *own, nm, spans.forward, method]).astype(np.float64)
    group = np.unique(keys, axis=1, return_inverse=True)[1].reshape(-1)
    newest = np.zeros(int(group.max(initial=-1)) + 1, np.int64)
    order = np.lexsort((np.arange(len(group)), days_of(tests["tested_on"])))
    newest[group[order]] = order  # the last written is the newest
    later = newest[group]
    return tests["test"].combine_chunks().take(pa.array(later, mask=later == np.arange(len(later))))


def both_ways_mean(group: Ints, forward: npt.NDArray[np.bool_], day: Ints, loss_db: Floats) -> Floats:
    """Return the mean of the newest loss each way of every row's group; NaN where one way was not measured."""
    n = int(group.max(initial=-1)) + 1
    newest = np.full((2, n), np.nan)
    order = np.lexsort((np.arange(len(day)), day))
    for way in (0, 1):
        mine = order[(forward[order] == bool(way)) & ~np.isnan(loss_db[order])]
        newest[way, group[mine]] = loss_db[mine]  # the last written is the newest
    found: Floats = newest.mean(axis=0)[group]
    return found


def since_before(group: Ints, day: Ints, loss_db: Floats) -> Floats:
    """Return each loss less that of the test before it in its group; NaN for the first one."""
    order = np.lexsort((np.arange(len(day)), day, group))
    out = np.full(len(day), np.nan)
    follows = group[order[1:]] == group[order[:-1]]
    out[order[1:][follows]] = (loss_db[order[1:]] - loss_db[order[:-1]])[follows]
    return out
