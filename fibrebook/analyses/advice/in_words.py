"""Advice as people read it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from fibrebook.analyses.advice.situation import Advice


def advice_words(advice: Sequence[Advice]) -> list[str]:
    """Return advice a line each; the same thing said of many records is said once, with how many."""
    told = Counter((a.check, a.do) for a in advice)
    first = {(a.check, a.do): a for a in reversed(advice)}
    out = []
    for key, count in told.items():
        a = first[key]
        more = f" (and {count - 1} more like it)" if count > 1 else ""
        out.append(f"{a.table} {a.record}: {a.what}{more}. {a.do[:1].upper()}{a.do[1:]}")
    return out
