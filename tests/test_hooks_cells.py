"""Readers of one kind of value in a cell of a firm's list: ours by the hook, a plugin's where ours cannot read."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from ducts import door

from fibrebook import plugins
from fibrebook.plugins import CellReader
from fibrebook.readers.door import OUR_CELL_READERS
from fibrebook.readers.lists.reading import Reading, read_text
from fibrebook.readers.lists.tables.roles import OF_AN_END, ROLES


@pytest.fixture(autouse=True)
def _alone() -> Iterator[None]:
    """No plugin but those of the test."""
    with door(""):
        yield


def plug(*given: Any) -> None:
    """Put a plugin that gives readers of cells to the door."""
    give = plugins.hookimpl(lambda: given)
    give.__name__ = "cell_readers"
    plugins.manager().register(type("Firm", (), {"cell_readers": staticmethod(give)})(), name="firm")


def cables(length: str) -> Reading:
    """A list of two cables, the first one's length as it is given."""
    rows = ("Cable|Cores|Length (m)", f"C1|12|{length}", "C2|24|80")
    return read_text("\n".join(row.replace("|", "\t") for row in rows))


def lengths(reading: Reading) -> dict[str, float]:
    """Length of each cable as it was read."""
    frame = reading.facts["cables"]
    return dict(zip(frame["cable"], frame["length_m"], strict=True))


def asked(reading: Reading) -> list[str]:
    """What is asked, sentences to confirm apart."""
    return [q.text for q in reading.asked if not q.key.startswith("sentence")]


def test_ours_come_by_the_hook() -> None:
    """Each of ours is a declaration whose function is there and reads a kind of column that there is."""
    assert dict(plugins.gathered("cell_readers")) == {"fibrebook.readers.door": [*OUR_CELL_READERS]}
    pairs = {"core_pair", *OF_AN_END}  # two colours at a core; what stands at an end
    for declared in OUR_CELL_READERS:
        assert declared.name in {*ROLES, *pairs} and callable(declared.function) and declared.help


def test_a_plugin_reads_what_ours_cannot() -> None:
    """Without it the cell is asked about; with it the length is read; what ours read stays theirs."""
    assert "500 ft" in asked(cables("500 ft")) and lengths(cables("500 ft"))["C2"] == 80
    plug(CellReader("length_m", lambda text, role: {role: 1.0} if text.endswith("0") else None))
    assert lengths(cables("120"))["C1"] == 120
    with door("example"):
        found = cables("500 ft")
        assert "500 ft" not in asked(found) and lengths(found) == {"C1": 152.4, "C2": 80}


FAULTY: dict[str, tuple[Any, str]] = {
    "no declaration": ("length_m", "no CellReader"),
    "no such module": (CellReader("length_m", "no_module:f"), "no_module"),
    "breaks": (CellReader("length_m", lambda text, role: 1 / 0), "broke at '500 ft': ZeroDivisionError"),
    "no mapping": (CellReader("length_m", lambda text, role: 152.4), "values by role are wanted"),
    "a value of its own sort": (CellReader("length_m", lambda text, role: {role: object()}), "no text and no number"),
    "a loss in words": (CellReader("length_m", lambda text, role: {"loss_db": "low"}), "which is no number"),
}


@pytest.mark.parametrize("name", FAULTY)
def test_a_faulty_one_is_left_out_and_named(name: str) -> None:
    """The cell is asked about as without the plugin, all else is read, and the plugin is named; saves go on."""
    given, told = FAULTY[name]
    without = asked(cables("500 ft"))
    assert "500 ft" in without
    plug(given)
    found = cables("500 ft")
    assert asked(found) == without and lengths(found)["C2"] == 80
    assert "'firm'" in plugins.in_words() and told in plugins.in_words()
    assert "Nothing can be saved" not in plugins.in_words()
