"""What failed and still stands: tests of every method that no later one of the same stretch stands against."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from fibrebook.analyses.tested.acceptance import acceptance_table, later_tests
from fibrebook.losses.elements import text
from fibrebook.losses.tested_stretches import Spans
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

OVER, WRITTEN = "over its limit", "written down as failed"
SHOWN = (
    "site", "test", "method", "from_at", "from_port", "from_position", "to_at", "to_port", "to_position", "cable",
    "core", "wavelength_nm", "direction", "tested_on", "tested_by", "loss_db",
)  # fmt: skip


@analysis
def failed_tests(seen: PlantSnapshot, site: str | None = None) -> pa.Table:
    """List the tests that failed and that no later test of the same stretch, wavelength, direction and method mends.

    Parameters
    ----------
    site : label of one site, or None for all

    Returns
    -------
    DataFrame, one row a test: the columns that tell it (site, test, method, ports, core, wavelength_nm, direction,
    tested_on, tested_by, loss_db), margin_db (limit less loss; NaN where no limit was reckoned: OTDR, light check) and
    why (over its limit: a loss test judged by `acceptance`; written down as failed: whoever tested says so).
    """
    return failed_table(seen)


def failed_table(seen: PlantSnapshot) -> pa.Table:
    """As `failed_tests`, as an Arrow table."""
    tests = seen.table("tests")
    judged = acceptance_table(seen)
    row = np.flatnonzero(text(tests["method"]) == "loss test")  # of each row judged, in the same order
    over, margin_db = np.zeros(tests.num_rows, bool), np.full(tests.num_rows, np.nan)
    over[row] = text(judged["verdict"]) == "fail"
    margin_db[row] = judged["margin_db"].to_numpy()
    newest = later_tests(Spans(seen.losses, tests)).is_null().to_numpy(zero_copy_only=False)
    fails = newest & (over | (text(tests["verdict"]) == "fail"))
    found = tests.select(SHOWN).append_column("margin_db", pa.array(margin_db))
    found = found.append_column("why", pa.array(np.where(over, OVER, WRITTEN)).dictionary_encode())
    return found.filter(pa.array(fails))
