"""What stands against a hard rule: it was there before the rule was, or came in past it."""

from __future__ import annotations

from collections.abc import Iterator

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.light.catalogue.firm_rows import VALUES_THAT_FIT
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.references.reference_index import key_text
from fibrebook.records.rules.breach import Judged
from fibrebook.records.rules.check import standing


def against_a_hard_rule(s: Situation) -> Iterator[Advice]:
    """A record that breaks a hard rule and may stand because it stood before: the next change of it must keep the rule.

    Values of the firm's own that no table can take are told with what they are left out of.
    """
    for problem in standing(Judged(s.tables, s.net.ends), (VALUES_THAT_FIT,)):
        kind = KINDS[problem.table]
        row = dict(zip(kind.key, problem.key, strict=False))
        own = tuple(k for k in kind.key if k != "site") or ("site",)
        site = str(row["site"]) if kind.scope == "site" else ""
        yield Advice(site, "hard rule", problem.table, key_text(row, own), problem.what, problem.remedy)
