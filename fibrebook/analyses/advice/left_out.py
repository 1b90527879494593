"""What the firm added or chose and no answer honours, because it cannot be."""

from __future__ import annotations

from collections.abc import Iterator

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.light.catalogue.firm_rows import firm_problems


def value_left_out(s: Situation) -> Iterator[Advice]:
    """A reference value or choice of the firm's own that stands in the register and that no table can take."""
    for problem in firm_problems({name: s.table(name) for name in ("choices", "reference_values", "colour_codes")}):
        what = f"{problem.what}; it is left out of every answer"
        yield Advice("", "value left out", problem.table, str(problem.key[0]), what, problem.remedy)
