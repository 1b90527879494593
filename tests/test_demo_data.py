"""The demo firm's workbooks and the old lists are what their generators write."""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

import pytest

DATA = Path(__file__).resolve().parents[1] / "data"
sys.path.insert(0, str(DATA))

import make_demo  # noqa: E402
from demo_maker.check import problems  # noqa: E402
from demo_maker.facts import facts  # noqa: E402
from old_list_maker import blocks, flat, panels, schedule  # noqa: E402

BOOKS = ("farms", "schools", "harbour", "campus", "works", "visits")
LISTS = {
    "core_schedule.xlsx": (schedule.write, DATA / "old_lists"),
    "panel_ports.xlsx": (panels.write, DATA / "old_lists"),
    "all_cores.csv": (flat.write, DATA / "old_lists"),
    "two_ends.ods": (blocks.write, DATA.parent / "tests" / "old_lists"),
}


@pytest.fixture(scope="module")
def groups():
    """All sites of the demo, built once."""
    return make_demo.build()


def contents(path: Path) -> dict[str, bytes]:
    """Give a file's parts; packed files are compared unpacked: the packer's version does not matter."""
    if path.suffix == ".csv":
        return {path.name: path.read_bytes()}
    with zipfile.ZipFile(path) as file:
        return {entry.filename: file.read(entry) for entry in file.infolist()}


def test_workbooks_are_what_the_generator_writes(groups, tmp_path):
    """Nobody edited a demo workbook by hand, and the generator is deterministic."""
    make_demo.write(groups, tmp_path)
    for book in BOOKS:
        assert contents(tmp_path / f"{book}.xlsx") == contents(DATA / "demo" / f"{book}.xlsx"), book


@pytest.mark.parametrize("name", LISTS)
def test_old_lists_are_what_the_generator_writes(name, tmp_path):
    """Nobody edited an old list by hand, and its generator is deterministic."""
    write, kept = LISTS[name]
    write(tmp_path / name)
    assert contents(tmp_path / name) == contents(kept / name)


def test_planted_facts_in_the_readme_are_true(groups):
    """The README's table of planted facts is what the rows say."""
    by_name = {site.site: site for sites in groups.values() for site in sites}
    readme = (DATA / "README.md").read_text(encoding="utf-8")
    written = readme.partition(make_demo.START)[2].partition(make_demo.END)[0].strip()
    assert written == make_demo.facts_table(facts(by_name))


@pytest.mark.parametrize(
    ("table", "change", "expected"),
    [
        ("terminations", {"core": 99}, "core 99 outside"),
        ("terminations", {"enclosure": "no such panel"}, "no ports"),
        ("splices", {"a_cable": "C1", "b_cable": "C1", "a_core": 3, "b_core": 3}, "joined to itself"),
        ("patches", {"a_port": "no such port"}, "nothing called"),
        ("channels", {"b_interface": "99"}, "does not exist"),
        ("enclosures", {"kind": "box"}, "kind is 'box'"),
    ],
)
def test_the_generators_own_check_finds_a_broken_rule(table, change, expected):
    """A demo with one wrong row is refused by the generator's own check, which names it."""
    site = make_demo.farms.dairy()
    assert problems([site]) == []
    site.tables[table][0].update(change)
    assert any(expected in problem for problem in problems([site]))
