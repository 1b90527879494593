"""Makes the demo firm's workbooks in data/demo/ and the table of planted facts in data/README.md.

Run it as ``python data/make_demo.py``. The same run gives the same bytes: no clock, fixed seeds.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from demo_maker import campus, farms, harbour, schools, works  # noqa: E402
from demo_maker.book import write_tables  # noqa: E402
from demo_maker.check import problems  # noqa: E402
from demo_maker.columns import COLUMNS  # noqa: E402
from demo_maker.facts import Fact, facts  # noqa: E402
from demo_maker.rows import Site  # noqa: E402
from demo_maker.testing import add_tests  # noqa: E402
from demo_maker.visits import add_visits  # noqa: E402

GROUPS = {"farms": farms, "schools": schools, "harbour": harbour, "campus": campus, "works": works}
TYPED_AS_NUMBERS = {"harbour", "works"}  # whoever keeps these types port 1, not '1
LATER = ("tests", "events", "visits", "snags")  # these go into visits.xlsx
START, END = "<!-- planted facts: written by make_demo.py -->", "<!-- end of planted facts -->"


def build() -> dict[str, list[Site]]:
    """Build all sites, group by group, and stop at the first broken rule."""
    groups = {name: module.sites() for name, module in GROUPS.items()}
    by_name = {s.site: s for sites in groups.values() for s in sites}
    add_tests(by_name)
    add_visits(by_name)
    wrong = problems(list(by_name.values()))
    if wrong:
        raise SystemExit("the demo breaks its own rules:\n" + "\n".join(wrong))
    return groups


def write(groups: dict[str, list[Site]], folder: Path) -> None:
    """Write one workbook per group, and one with all visits, tests and snags."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, sites in groups.items():
        tables = {t: [r for s in sites for r in s.tables[t]] for t in COLUMNS if t not in LATER}
        write_tables(folder / f"{name}.xlsx", tables, number_labels=name in TYPED_AS_NUMBERS)
    everyone = [s for sites in groups.values() for s in sites]
    tables = {t: [r for s in everyone for r in s.tables[t]] for t in LATER}
    write_tables(folder / "visits.xlsx", tables, number_labels=False)


def facts_table(planted: list[Fact]) -> str:
    """Write the planted facts as a Markdown table."""
    rows = ["| fact | site | where | value |", "| --- | --- | --- | --- |"]
    rows += [f"| {f.what} | {f.site} | {f.where} | {f.value} |" for f in planted]
    return "\n".join(rows)


def main() -> None:
    """Build, check, write."""
    groups = build()
    write(groups, HERE / "demo")
    by_name = {s.site: s for sites in groups.values() for s in sites}
    readme = HERE / "README.md"
    if readme.exists():
        text = readme.read_text(encoding="utf-8")
        before, _, rest = text.partition(START)
        after = rest.partition(END)[2]
        table = facts_table(facts(by_name))
        readme.write_text(f"{before}{START}\n{table}\n{END}{after}", encoding="utf-8", newline="\n")
    for table in COLUMNS:
        print(f"{table:13}{sum(len(s.tables[table]) for s in by_name.values()):6}")
    print(f"{'all cores':13}{sum(r['core_count'] for s in by_name.values() for r in s.tables['cables']):6}")


if __name__ == "__main__":
    main()
