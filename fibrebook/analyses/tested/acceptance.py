"""Did a link pass: every loss test against the limit of its own stretch, within what the instrument can tell."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.losses.by_tests.judged import REASONS, VERDICTS, limit_parts, uncertainty_db, verdicts
from fibrebook.losses.elements import lengths_m, text
from fibrebook.losses.tested_stretches import Spans, days_of
from fibrebook.records.references.columns import coded
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
OWN = (
    "site", "test", "from_at", "from_port", "from_position", "to_at", "to_port", "to_position", "cable", "core",
    "wavelength_nm", "direction", "reference_method", "tested_on", "tested_by", "loss_db",
)  # fmt: skip
STRETCH = (
    "site", "from_at", "from_port", "from_position", "to_at", "to_port", "to_position", "cable", "core",
    "wavelength_nm", "direction",
)  # fmt: skip


@analysis
def acceptance(seen: PlantSnapshot, site: str | None = None, style: str | None = None) -> pa.Table:
    """Judge every loss test.

    Parameters
    ----------
    site : label of one site, or None for all
    style : "ISO/IEC 14763-3" or "TIA-568.3"; default the firm's choice `acceptance`, else the first

    Returns
    -------
    DataFrame, one row a loss test: the columns that tell it (site, test, ports, core, wavelength_nm, direction,
    reference_method, tested_on, tested_by, loss_db), limit_db and its parts fibre_db, ends (end connections that the
    reference method leaves in the result: one-cord 2, two-cord 1, three-cord 0), ends_db, connections (inner ones),
    connections_db, splices, splices_db; margin_db (limit less loss), uncertainty_db (the test's own, else the firm's,
    else the usual), verdict (pass, marginal: nearer to the limit than the uncertainty, fail, not known), why,
    recorded_verdict, mean_db (of the newest tests in both directions), drift_db (against the test before, same stretch,
    wavelength, direction and method).
    """
    return acceptance_table(seen, style)


def acceptance_table(seen: PlantSnapshot, style: str | None = None) -> pa.Table:
    """As `acceptance`, as an Arrow table; `style` None = the firm's choice."""
    tests, style = seen.table("tests"), style or seen.values.acceptance_edition
    tests = tests.filter(pa.array(text(tests["method"]) == "loss test"))
    spans = Spans(seen.losses, tests)
    parts = limit_parts(spans, style)
    loss_db, sure_db = lengths_m(tests["loss_db"]), uncertainty_db(spans)
    verdict, reason = verdicts(spans, parts, loss_db, sure_db)
    table = {name: tests[name] for name in OWN}
    group = _groups(spans)
    table |= {
        **{k: pa.array(v) for k, v in parts.items() if k != "end_db"},
        "margin_db": pa.array(parts["limit_db"] - loss_db),
        "uncertainty_db": pa.array(sure_db),
        "verdict": coded(verdict, VERDICTS),
        "why": coded(reason, REASONS),
        "recorded_verdict": tests["verdict"],
        "mean_db": pa.array(both_ways_mean(group, spans.forward, days_of(tests["tested_on"]), loss_db)),
        "drift_db": pa.array(since_before(group * 2 + spans.forward, days_of(tests["tested_on"]), loss_db)),
    }
    return pa.table(table)


def _groups(spans: Spans) -> Ints:
    """Number of the stretch, wavelength and reference method of each test; tests of no stretch each stand alone."""
    first, last = spans.places
    alone = np.where(spans.known, -1, np.arange(len(first)))
    nm = np.nan_to_num(lengths_m(spans.tests["wavelength_nm"]))
    method = text(spans.tests["reference_method"])
    code = np.unique(method.astype(str), return_inverse=True)[1]
    keys = np.stack([first, last, alone, nm.astype(np.int64), code])
    return np.unique(keys, axis=1, return_inverse=True)[1].reshape(-1)


def newest_tests(tests: pd.DataFrame) -> pd.DataFrame:
    """Return the tests that no later one of the same stretch, wavelength and direction stands against.

    Columns in: those of `STRETCH`, and tested_on; `method` too where several methods are among them. The same out.
    """
    by = [*STRETCH, *(["method"] if "method" in tests.columns else [])]
    return tests.sort_values("tested_on", kind="stable").drop_duplicates(by, keep="last")


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
