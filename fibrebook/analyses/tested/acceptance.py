"""Did a link pass: every loss test against the limit of its own stretch, within what the instrument can tell."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.light.catalogue.editions import acceptance_edition
from fibrebook.losses.by_tests.judged import (
    MARGINAL,
    NOT_KNOWN,
    REASONS,
    TIE_DB,
    VERDICTS,
    limit_parts,
    uncertainty_db,
    verdicts,
)  # fmt: skip
from fibrebook.losses.elements import lengths_m, text
from fibrebook.losses.tested_stretches import Spans, days_of
from fibrebook.records.references.columns import coded
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

Floats = npt.NDArray[np.float64]
SIDES = ("", "within the limit", "over the limit")
OWN = (
    "site", "test", "from_at", "from_port", "from_position", "to_at", "to_port", "to_position", "cable", "core",
    "wavelength_nm", "direction", "reference_method", "tested_on", "tested_by", "loss_db",
)  # fmt: skip
NAMED = ("site", "from_at", "from_port", "from_position", "to_at", "to_port", "to_position", "cable", "core")


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
    parts, known_from = limit_parts(spans, edition)
    loss_db, sure_db = lengths_m(tests["loss_db"]), uncertainty_db(spans)
    verdict, reason = verdicts(spans, parts, loss_db, sure_db)
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
