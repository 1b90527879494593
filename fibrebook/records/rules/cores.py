"""Cores and core ends: of a cable that is there, within its count, at an enclosure where the cable ends."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fibrebook.errors import Problem
from fibrebook.records.references.reference_index import NO_CABLE, NO_CORE, NOT_HERE, WHICH_END, Ends
from fibrebook.records.rules.breach import Judged, blank, each
from fibrebook.words.labels import whole_number


def cores_of_cables(tables: Judged) -> Iterator[Problem]:
    """Name each core record whose cable is not there, or has fewer cores."""
    ends = tables.ends
    t = ends.table("cores")
    _, why = ends.core_ids(ends.site_ids("cores"), t["cable"], t["core"])
    yield from core_faults(ends, "cores", "cable", "core", why)


def core_faults(ends: Ends, kind: str, cable: str, core: str, why: np.ndarray) -> Iterator[Problem]:
    """Name each row whose core was not found, for want of the cable or of so many cores."""
    yield from each(
        ends,
        kind,
        why == NO_CABLE,
        lambda r: (
            f"there is no cable {r[cable]!r} at this site",
            "add it to the table 'cables' or mend its label here",
        ),
        cable,
        lambda r: (("cables", (r["site"], r[cable])),),
    )
    yield from each(
        ends,
        kind,
        why == NO_CORE,
        lambda r: (f"cable {r[cable]!r} has no core {r[core]}", "mend the core number, or the cable's core_count"),
        core,
    )


def tube_sizes_add_up(tables: Judged) -> Iterator[Problem]:
    """Name each cable whose tubes do not hold as many cores as it has."""
    ends = tables.ends
    cables = ends.table("cables")
    given = ~blank(cables["tube_sizes"])
    bad = np.zeros(len(given), bool)
    for i in np.flatnonzero(given):
        sizes = str(cables["tube_sizes"][int(i)].as_py()).replace(",", " ").split()
        numbers = [whole_number(s) or 0 for s in sizes]
        bad[i] = not all(0 < n < 10_000 for n in numbers) or sum(numbers) != ends.core_count[i]
    yield from each(
        ends,
        "cables",
        bad,
        lambda r: (
            f"tube_sizes {str(r['tube_sizes'])[:40]!r} do not add up to the core count {r['core_count']}",
            "write the cores of each tube as 12, 12, 6",
        ),
        "tube_sizes",
    )


def end_faults(ends: Ends, kind: str, side: str, why: np.ndarray) -> Iterator[Problem]:
    """Name each row whose core end was not found: no such core, or no end of its cable at the enclosure."""
    cable, core, end = (f"{side}_{c}" if side else c for c in ("cable", "core", "end"))
    yield from core_faults(ends, kind, cable, core, why)
    yield from each(
        ends,
        kind,
        why == NOT_HERE,
        lambda r: (
            f"cable {r[cable]!r} has no end{' ' + str(r[end]) if r[end] else ''} at enclosure {r['enclosure']!r}",
            "mend the enclosure here, or the cable's a_enclosure and b_enclosure",
        ),
        cable,
        lambda r: (("cables", (r["site"], r[cable])),),
    )
    yield from each(
        ends,
        kind,
        why == WHICH_END,
        lambda r: (f"cable {r[cable]!r} has both ends at {r['enclosure']!r}", f"say which: write A or B in {end!r}"),
        end,
    )
