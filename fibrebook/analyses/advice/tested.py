"""Checks of what was measured: over the limit whatever was written, out of date, or figures that cannot be."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pyarrow as pa

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.analyses.tested.acceptance import acceptance_table, verdict_in_words
from fibrebook.analyses.tested.untested import STALE, untested_table
from fibrebook.losses.elements import floats_or_nan, text

MUCH_DB = 3.0  # half the light: no joint that anybody left so; common practice, no source


def test_over_its_limit(s: Situation) -> Iterator[Advice]:
    """A loss test over the limit of its stretch, or too near to it, though it was not written down so."""
    found = acceptance_table(s.seen)
    verdict, written = text(found["verdict"]), text(found["recorded_verdict"])
    odd = np.isin(verdict, ("fail", "marginal")) & (verdict != written) & (written != "fail")
    for row in found.filter(pa.array(odd)).to_pylist():
        what = (
            f"{row['loss_db']:.2f} dB at {row['wavelength_nm']} nm against a limit of {row['limit_db']:.2f} dB "
            f"({row['edition']}) is {verdict_in_words(row['verdict'], row['side'])}, "
            f"written down as {row['recorded_verdict'] or 'nothing'}"
        )
        yield s.advise("test over its limit", "tests", row, what, "clean, measure again; mend the joint or the verdict")
    for row in found.filter(pa.array(verdict == "not known")).to_pylist():
        if row["loss_db"] is not None:
            yield s.advise("test cannot be judged", "tests", row, row["why"], "complete or mend its row")


def tested_before_disturbed(s: Situation) -> Iterator[Advice]:
    """Cores tested before a joint or cord in the tested stretch was made anew."""
    for row in untested_table(s.seen).to_pylist():
        if row["reason"] == STALE:
            cores = f"core{'s' if ' ' in row['cores'] else ''} {row['cores']}"
            what = f"{cores}: tested on {row['tested_on']}, disturbed on {row['disturbed_on']}"
            yield s.advise("test out of date", "cables", row, what, "test again and record it")


def impossible_loss(s: Situation) -> Iterator[Advice]:
    """A joint that gains light, or loses more than anybody would leave."""
    for kind in ("splices", "terminations"):
        loss_db = floats_or_nan(s.table(kind)["loss_db"])
        for row in s.rows(kind, loss_db < 0):
            what = f"{row['loss_db']:.2f} dB: a joint gains nothing; one way of an OTDR reads so where fibres differ"
            yield s.advise("loss below nothing", kind, row, what, "read it both ways and record the mean")
        for row in s.rows(kind, loss_db > MUCH_DB):
            what = f"{row['loss_db']:.2f} dB is more than half the light"
            yield s.advise("loss hardly possible", kind, row, what, "check the figure; else make the joint anew")
    events = s.table("events")
    gains = (floats_or_nan(events["loss_db"]) < 0) & (text(events["what"]) != "gainer")
    for row in s.rows("events", gains):
        what = f"{row['loss_db']:.2f} dB below nothing is not called a gainer"
        yield s.advise("loss below nothing", "events", row, what, "call it a gainer, or mend the figure")
