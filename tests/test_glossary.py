"""The project's own glossary: every word that a user meets stands in it, with its source."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fibrebook.cli import OURS
from fibrebook.plant import STATES
from fibrebook.records import KINDS

GLOSSARY = (Path(__file__).parent.parent / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Glossary")[2]
ROWS = [line for line in GLOSSARY.splitlines() if line.startswith("|")][2:]
WORDS = re.sub(r"[-\s]+", " ", " ".join(row.split("|")[1] for row in ROWS)).casefold()
OF_STANDARDS = (
    "connector",
    "polish",
    "a_polish",
    "b_polish",
    "fibre_class",
    "fibre",
    "colour_code",
    "reference_table",
    "application",
    "grade",
)


def stands(word: str) -> bool:
    """Whether a word stands among the glossary's, hyphens and the plural aside."""
    plain = re.sub(r"[-_\s]+", " ", word).casefold()
    forms = {plain, plain.removesuffix("s"), plain.removesuffix("es"), plain.removesuffix("ies") + "y"}
    return any(re.search(rf"(?<!\w){re.escape(form)}(?!\w)", WORDS) for form in forms)


def plain_values() -> list[str]:
    """The values that columns offer, those aside that are names within a standard."""
    columns = [(c.name, c.allowed) for k in KINDS.values() if k.scope == "site" for c in k.columns]
    return sorted({v for name, allowed in columns if name not in OF_STANDARDS for v in allowed})


@pytest.mark.parametrize("word", [*OURS, *KINDS, *STATES, *plain_values()])
def test_every_word_stands_in_the_glossary(word: str) -> None:
    """Each command, kind of record, state of a core and value that a column offers is explained."""
    assert stands(word)


# what people of the trade call what is here, or beside it, and will look up
OF_THE_TRADE = (
    "margin", "terminated", "patch panel", "patch cord", "jumper", "trunk", "splice protector", "breakout",
    "visual fault locator", "light source and power meter", "tail cord", "bend radius", "permanent link", "attenuator",
    "A/Z", "near", "far", "pessimistic",
)  # fmt: skip


@pytest.mark.parametrize("word", OF_THE_TRADE)
def test_the_trade_s_words_stand_beside_ours(word: str) -> None:
    """A word that the trade uses where we use another is explained all the same."""
    assert stands(word)


def test_a_strand_is_one_thing() -> None:
    """The word is explained once; every table that has it, or counts it, means a fibre from end to end."""
    (row,) = [row for row in ROWS if re.search(r"(?<!\w)strand(?!s)", row.split("|")[1])]
    assert "from end to end" in row
    columns = [c for kind in KINDS.values() for c in kind.columns if "strand" in c.name]
    assert [c.help for c in columns] == ["Which fibre of the cord, from end to end: 1, 2..."]
    assert "strand" not in row.split("|")[2]


def test_a_word_that_is_not_there_would_be_found_out() -> None:
    """The check above can fail: a word that nobody uses does not stand in the glossary."""
    assert not stands("flugelhorn")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.split("|")[1].strip()[:30])
def test_every_word_has_a_meaning_and_a_source(row: str) -> None:
    """Three cells a row: word, meaning, source; none is blank."""
    cells = [c.strip() for c in row.strip("|").split("|")]
    assert len(cells) == 3
    assert all(cells)


def test_every_column_has_help() -> None:
    """Each column says in words what it holds: workbook, forms and this glossary rely on it."""
    assert [(k.name, c.name) for k in KINDS.values() for c in k.columns if len(c.help) < 4] == []
