"""Print every reference value, its source, how it is known and its check: `python -m fibrebook.reference.check`.

With the name of a table: only that one. With `--planted`: put wrong values in, one at a time, and tell which pass.
With `--renew`: write the list of what passes unnoticed into CHECKS.md.
Ends with 1 where a check fails or a row has neither a check nor a reason in CHECKS.md.
"""

from __future__ import annotations

import sys
from collections import Counter

from fibrebook.reference.check.document import renew
from fibrebook.reference.check.held import shipped_tables
from fibrebook.reference.check.planted import plants
from fibrebook.reference.check.walk import lines_of, value_of, walk


def main(given: list[str]) -> int:
    """Print, and return the exit code."""
    tables = shipped_tables()
    wanted = [name for name in given if not name.startswith("-")] or list(tables)
    unknown = [n for n in wanted if n not in tables] + [o for o in given if o.startswith("-") and o not in OPTIONS]
    if unknown:
        print(f"{unknown[0]!r} is no reference table and no option. Tables: {', '.join(tables)}.", *OPTIONS)
        return 2
    if RENEW in given:
        renew()
        return 0
    return _planted(wanted) if PLANTED in given else _values(wanted)


OPTIONS = PLANTED, RENEW = "--planted", "--renew"


def _values(wanted: list[str]) -> int:
    bad, known = 0, Counter[str]()
    for walked in walk(shipped_tables()):
        if walked.table in wanted:
            print("\n".join(lines_of(walked)))
            bad += bool(walked.fails) or not (walked.held_by or walked.excuse)
            known[walked.row["basis"]] += 1
            known["held by a check"] += bool(walked.held_by)
    print(
        f"{sum(known.values()) - known['held by a check']} values: " + ", ".join(f"{n} {k}" for k, n in known.items())
    )
    return int(bad > 0)


def _planted(wanted: list[str]) -> int:
    noticed, missed = Counter[str](), Counter[str]()
    for plant in plants(shipped_tables()):
        if plant.table in wanted:
            (noticed if plant.noticed_by else missed)[plant.table] += 1
            if not plant.noticed_by:
                print(f"{plant.table}, line {plant.row['line']}: {plant.column} {plant.wrong} passes for {plant.right}")
                print(f"    {value_of(plant.row)}")
    for name in wanted:
        if noticed[name] + missed[name]:
            print(f"{name}: {noticed[name]} of {noticed[name] + missed[name]} wrong values noticed")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
