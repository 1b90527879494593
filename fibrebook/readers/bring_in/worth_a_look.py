"""What advice and acceptance say of what a file brings: worked out when it is first asked for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.readers.files.report import ReportLine, WorthALook
from fibrebook.register import open as open_register

if TYPE_CHECKING:
    from fibrebook.analyses.advice.situation import Advice
    from fibrebook.register import Register
    from fibrebook.snapshot.snapshot import PlantSnapshot

NEW = ("added", "changed")
TOUCHED = (*NEW, "removed")
ONE_BY_ONE = 40  # sites looked at one by one; of more, all are at once
Two = tuple["PlantSnapshot", "PlantSnapshot"]  # a site before the file and with it


def after_commit(reg: Register, commit: int, lines: Iterable[ReportLine]) -> Callable[[], WorthALook]:
    """Return what tells of a commit: its sites just before it and as it left them."""
    touched = list(lines)

    return lambda: _of_commits(reg, commit - 1, commit, touched)


def between_commits(reg: Register, earlier: int, later: int) -> WorthALook:
    """Return what is said of all that was committed after `earlier` and up to `later`."""
    found = reg.differences(earlier, later)
    records = dict.fromkeys(zip(found["table"], found["key"], found["op"], strict=True))
    return _of_commits(reg, earlier, later, [ReportLine("", None, *record) for record in records])


def _of_commits(reg: Register, earlier: int, later: int, touched: Sequence[ReportLine]) -> WorthALook:
    before, after = (open_register(reg.where, at=n) for n in (earlier, later))
    return _said(((_of(before, site), _of(after, site)) for site in _sites(touched)), touched)


def before_commit(reg: Register, left: Mapping[str, pa.Table], lines: Iterable[ReportLine]) -> Callable[[], WorthALook]:
    """Return what tells of a trial.

    left : the tables that it would change, as it would leave them, of all sites that it touches
    """
    touched, tried_on = list(lines), reg.commit

    def say() -> WorthALook:
        as_tried = reg if reg.commit == tried_on else open_register(reg.where, at=tried_on)  # it may have gone on

        def both(site: str | None) -> Two:
            now = _of(as_tried, site)
            laid = {kind: _laid(now.table(kind), table, site, touched) for kind, table in left.items()}
            return now, now.with_tables(laid)

        return _said(map(both, _sites(touched)), touched)

    return say


def _of(reg: Register, site: str | None) -> PlantSnapshot:
    from fibrebook.snapshot.snapshot import PlantSnapshot

    return PlantSnapshot.of(reg) if site is None else PlantSnapshot.of_site_or_new(reg, site)


def _sites(lines: Iterable[ReportLine]) -> Sequence[str | None]:
    """The sites of rows that change anything; None, which is all of them at once, where they are many."""
    from fibrebook.records import KINDS

    kinds = {name for name, kind in KINDS.items() if kind.scope == "site"}
    found = {str(line.key[0]) for line in lines if line.fate in TOUCHED and line.table in kinds and line.key}
    return sorted(found) if len(found) <= ONE_BY_ONE else (None,)


def _laid(now: pa.Table, left: pa.Table, site: str | None, touched: Iterable[ReportLine]) -> pa.Table:
    """Rows of a site (None: of all) as they would be: those of sites that are touched, and the others as they are."""
    if "site" not in left.column_names:
        return left
    if site is not None:
        return left.filter(pc.equal(left["site"], site))
    gone = pa.array(sorted({str(line.key[0]) for line in touched if line.fate in TOUCHED and line.key}), pa.string())
    others = pc.invert(pc.is_in(now["site"].cast(pa.string()), gone))
    return pa.concat_tables([now.filter(others), left.select(now.column_names).cast(now.schema)])


def _said(pairs: Iterable[Two], lines: Iterable[ReportLine]) -> WorthALook:
    from fibrebook.analyses.advice.advice import all_advice
    from fibrebook.analyses.advice.situation import Situation, advice_words

    brought = {line.key for line in lines if line.table == "tests" and line.fate in NEW}
    caused: list[Advice] = []
    tests: list[dict[str, Any]] = []
    for before, after in pairs:
        known = set(all_advice(Situation(before)))
        caused += [a for a in all_advice(Situation(after)) if a not in known]
        tests += _judged(after, brought)
    words = [*_of_tests(tests), *(f"worth a second look: {text}" for text in advice_words(caused))]
    return WorthALook([asdict(a) for a in caused], tests, words)


def _judged(seen: PlantSnapshot, brought: set[tuple[Any, ...]]) -> list[dict[str, Any]]:
    """What acceptance says of each loss test brought, and what is written down of a failed one of another method."""
    from fibrebook.analyses.tested.acceptance import acceptance_table, verdict_in_words

    if not any(seen.site in (None, key[0]) for key in brought):
        return []
    out = []
    for row in acceptance_table(seen).to_pylist():
        if (row["site"], row["test"]) in brought:
            told = {k: row[k] for k in ("site", "test", "wavelength_nm", "loss_db", "limit_db", "why", "edition")}
            out.append({"method": "loss test", "verdict": verdict_in_words(row["verdict"], row["side"]), **told})
    for row in seen.table("tests").filter(pc.equal(seen.table("tests")["verdict"], "fail")).to_pylist():
        if (row["site"], row["test"]) in brought and row["method"] != "loss test":
            told = {k: row[k] for k in ("site", "test", "method", "wavelength_nm", "loss_db", "verdict")}
            out.append({**told, "limit_db": None, "why": "written down as failed", "edition": ""})
    return out


def _of_tests(tests: list[dict[str, Any]]) -> list[str]:
    judged = [t for t in tests if t["method"] == "loss test"]
    words = []
    if judged:
        counts = Counter(t["verdict"].partition(",")[0] for t in judged)
        told = ", ".join(f"{counts[v]} {v}" for v in ("pass", "marginal", "fail", "not known") if counts[v])
        words.append(f"loss tests judged by {judged[0]['edition']}: {told}")
    for test in tests:
        if test["verdict"] != "pass":
            words.append(_in_words(test))
    return words


def _in_words(test: dict[str, Any]) -> str:
    nm = "" if test["wavelength_nm"] is None else f" at {test['wavelength_nm']:g} nm"
    name = f"test {test['site']} / {test['test']}{nm}"
    if test["method"] != "loss test":
        return f"{name} ({test['method']}): {test['why']}"
    if test["why"]:
        return f"{name}: {test['verdict']}, {test['why']}"
    return f"{name}: {test['loss_db']:.2f} dB against {test['limit_db']:.2f} dB is {test['verdict']}"
