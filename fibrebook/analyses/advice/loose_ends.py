"""Checks of what was left open: temporary cords, half-made spares, no spares, faults in use, gaps in the records."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import numpy as np
import pyarrow.compute as pc

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.analyses.spare.spare import spare_counts
from fibrebook.errors import ValueSourceError
from fibrebook.losses.elements import floats_or_nan, text
from fibrebook.plant.states import FAULTY, HALF_TERMINATED, path_channel
from fibrebook.reference.colours import canonical_code
from fibrebook.reference.fibres import fibre_class
from fibrebook.words.matching import grouped

A_MONTH = dt.timedelta(days=31)


def temporary_patch(s: Situation) -> Iterator[Advice]:
    """A cord that was meant for a while and is older than a month."""
    for row in s.rows("patches", pc.fill_null(s.tables["patches"]["temporary"], False).to_numpy()):
        fitted = row["fitted_on"]
        if fitted is None or s.today - fitted > A_MONTH:
            age = f"since {fitted} ({(s.today - fitted).days} days)" if fitted else "since nobody noted when"
            yield s.advise(
                "temporary patch", "patches", row, f"temporary, in {age}", "make it permanent or take it out"
            )


def half_terminated(s: Situation) -> Iterator[Advice]:
    """Cores made off at one end only."""
    half = np.flatnonzero(s.states == HALF_TERMINATED)
    cables, members = grouped(s.net.ends.core_cable[half])
    for row, own in zip(s.rows("cables", cables), members, strict=True):
        numbers = s.net.ends.core_number[half[own]].tolist()
        what = f"{len(numbers)} made off at one end only: {_runs(numbers)}"
        yield s.advise("half-terminated", "cables", row, what, "make off the other end at the next visit")


def _runs(numbers: list[int]) -> str:
    """Whole numbers as people write them: 1 to 4, 7."""
    runs: list[list[int]] = []
    for n in numbers:
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return ", ".join(f"{r[0]} to {r[-1]}" if len(r) > 1 else str(r[0]) for r in runs)


def no_spare_cores(s: Situation) -> Iterator[Advice]:
    """A site with cable, none of whose cores is spare."""
    counts = spare_counts(s.net, "site")
    bare = pc.and_(pc.equal(counts["spare"], 0), pc.greater(counts["total"], 0))
    for row in counts.filter(bare).to_pylist():
        what = f"none of its {row['total']} cores is spare"
        yield s.advise("no spare cores", "sites", row, what, "quote a new cable with the next job")


def faulty_core_in_use(s: Situation) -> Iterator[Advice]:
    """A core said to be faulty on the path of a channel."""
    serves = path_channel(s.net)[s.net.core_path]
    hit = np.flatnonzero((s.states == FAULTY) & (serves >= 0))
    for row, channel in zip(s.cores(hit), s.rows("channels", serves[hit]), strict=True):
        what = f"is said to be faulty but serves channel {channel['channel']}"
        yield s.advise("faulty core in use", "cores", row, what, "move the channel to a sound core, or mend the record")


def gaps_in_cables(s: Situation) -> Iterator[Advice]:
    """Cables without a length, of an unknown fibre class or colour code."""
    cables = s.tables["cables"]
    for row in s.rows("cables", np.isnan(floats_or_nan(cables["length_m"]))):
        yield s.advise("length not known", "cables", row, "has no length", "read the marks on its sheath at both ends")
    classes = text(cables["fibre_class"])
    unknown = {c for c in set(classes.tolist()) if fibre_class(c, values=s.values) is None}
    for row in s.rows("cables", np.isin(classes, list(unknown))):
        what = f"its fibre class {row['fibre_class']!r} is not known" if row["fibre_class"] else "has no fibre class"
        yield s.advise("fibre class not known", "cables", row, what, "read the print on its sheath")
    code = text(cables["colour_code"])
    strange = {c for c in set(code.tolist()) if c and not _is_code(c, dict(s.values.own_codes))}
    for row in s.rows("cables", np.isin(code, list(strange))):
        what = f"its colour code {row['colour_code']!r} is not known"
        yield s.advise(
            "colour code not known", "cables", row, what, "mend it, or write the firm's code in colour_codes"
        )


def _is_code(name: str, own: dict[str, list[str]]) -> bool:
    """Whether a colour code is known, whatever its capitals and spaces, by an edition or another name too."""
    try:
        canonical_code(name, {code: colours for code, colours in own.items() if colours})
    except ValueSourceError:
        return False
    return True
