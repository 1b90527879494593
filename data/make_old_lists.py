"""Makes the old lists: three in data/old_lists/ and one of another shape in tests/old_lists/.

Run it as ``python data/make_old_lists.py`` in a checkout. The same run gives the same bytes.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from old_list_maker import blocks, flat, panels, schedule  # noqa: E402


def main() -> None:
    """Write all four lists and say how many rows each has."""
    here, tests = HERE / "old_lists", HERE.parent / "tests" / "old_lists"
    here.mkdir(exist_ok=True)
    print("core_schedule.xlsx", schedule.write(here / "core_schedule.xlsx"), "cores")
    print("panel_ports.xlsx", panels.write(here / "panel_ports.xlsx"), "ports")
    print("all_cores.csv", flat.write(here / "all_cores.csv"), "cores")
    if tests.is_dir():  # an installed copy has no tests beside it
        print("two_ends.ods", blocks.write(tests / "two_ends.ods"), "cores")


if __name__ == "__main__":
    main()
