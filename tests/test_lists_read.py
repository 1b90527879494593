"""Lists of many shapes read: what comes of each, what is asked, and that no cell is lost and no wrong row is asserted."""

from __future__ import annotations

from pathlib import Path

import pytest
from list_shapes import SLIPS, Made, write
from openpyxl import Workbook
from openpyxl.styles import Font

import fibrebook
from fibrebook.errors import InputError, LayoutError
from fibrebook.readers.lists.reading import Reading, read_list, read_text

LISTS = Path(__file__).parents[1] / "data" / "old_lists"


def read(*rows: str) -> Reading:
    """A list of rows whose cells stand between upright lines."""
    return read_text("\n".join(row.replace("|", "\t") for row in rows))


def made(reading: Reading) -> set[Made]:
    """Which port holds which core."""
    frame = reading.facts.get("terminations")
    if frame is None:
        return set()
    return {(t.enclosure, t.port + (t.position or ""), t.cable, t.core) for t in frame.itertuples()}


def open_questions(reading: Reading) -> list[str]:
    """Keys of questions, sentences to confirm apart."""
    return [q.key for q in reading.asked if not q.key.startswith("sentence")]


def agree(reading: Reading) -> Reading:
    """Answer every question by its first proposal, the way a person would who finds it right."""
    for _ in range(50):
        if not reading.asked:
            return reading
        reading.answer(1, reading.asked[0].proposals[0])
    raise AssertionError(open_questions(reading))


def accounted(reading: Reading) -> None:
    """Every cell that is not blank has one fate, and the fates add up."""
    cells = reading.cells
    there = sum(1 for s in reading.book.sheets for _ in s.cells())
    assert len(cells) == there == sum(reading.counts().values())
    assert set(cells["fate"]) <= {"used", "left out", "question"}
    rules = set(cells[cells["fate"] == "left out"]["why"])
    assert rules <= {"title", "legend", "total", "said"}
    asked = {q.key for q in reading.asked}
    assert set(cells[cells["fate"] == "question"]["why"]) <= asked


def test_random_lists_are_read_right_and_wholly() -> None:
    """120 plants in as many dresses: every core right, none wrong, nothing asked but the sentence and no cell lost."""
    for seed in range(120):
        written = write(seed)
        reading = read_text(written.text)
        assert made(reading) == written.made, seed
        counts = dict(zip(reading.facts["cables"]["cable"], reading.facts["cables"]["core_count"], strict=True))
        assert counts == written.counts, seed
        assert open_questions(reading) == [], seed
        accounted(reading)


@pytest.mark.parametrize("slip", SLIPS)
def test_slips_are_found_and_nothing_wrong_comes_of_them(slip: str) -> None:
    """A slip of each kind in 40 lists: each is asked about, and no row that is wrong is among the facts."""
    sown = 0
    for seed in range(40):
        written = write(seed, slip)
        if not written.slip:
            continue
        sown += 1
        reading = read_text(written.text)
        assert open_questions(reading), (slip, seed)
        assert slip == "one too many" or made(reading) <= written.made, (slip, seed)
        accounted(reading)
    assert sown > 10


CASES: dict[str, tuple[list[str], set[Made], list[str]]] = {
    "ranges, two cores to a port": (
        ["Cable|Cores|Panel|Ports", "C2|1-4|P2|1-2"], {("P2", "1A", "C2", 1), ("P2", "1B", "C2", 2), ("P2", "2A", "C2", 3), ("P2", "2B", "C2", 4)},
        ["two cores to a port at end A"]),
    "ranges paired off": (["Cable|Cores|Panel|Ports", "C2|1-4|P2|5-8"], {("P2", str(n + 4), "C2", n) for n in range(1, 5)}, []),
    "cable and core in one cell": (
        ["Panel|Port|Core|Remark", *(f"P1|{n}|C07-{n}|" for n in range(1, 5)), "P1|5|spare|"], {("P1", str(n), "C07", n) for n in range(1, 5)}, []),
    "German": (
        ["Kabel: K3", "Ader|Farbe|Patchfeld|Buchse|Bemerkung", "1|rot|PF1|1|", "2|grün|PF1|2|defekt", "3|blau|PF1|3|", "4|gelb|PF1|-|frei"],
        {("PF1", "1", "K3", 1), ("PF1", "2", "K3", 2), ("PF1", "3", "K3", 3)}, []),
    "laid across": (
        ["Cable C9", "Core|1|2|3|4", "Panel|P1|P1|P1|P1", "Port|4|3|2|1"], {("P1", str(5 - n), "C9", n) for n in range(1, 5)}, []),
    "tubes of twelve by the count of cores": (
        ["Cable C7 24F", "Tube|Core|Panel|Port", "1|1|P1|1", "1|2|P1|2", "2|1|P1|3", "2|2|P1|4"],
        {("P1", "1", "C7", 1), ("P1", "2", "C7", 2), ("P1", "3", "C7", 13), ("P1", "4", "C7", 14)}, []),
    "colours of tube and core in one cell": (
        ["Cable C1", "Fibre|Panel|Port", *(f"{t}/{c}|P1|{i * 4 + j}" for i, t in enumerate(("Bl", "Or")) for j, c in enumerate(("Bl", "Or", "Gr", "Br"), 1))],
        {("P1", str(n), "C1", n) for n in range(1, 9)}, ["two colours in column fibre"]),
    "number and colour in one cell": (
        ["Kabel K1", "Ader|Panel|Port", "1rot|P1|1", "2grün|P1|2", "3blau|P1|3", "4gelb|P1|4"], {("P1", str(n), "K1", n) for n in range(1, 5)}, []),
    "positions as letters": (
        ["Cable C1", "Core|Panel|Port", "1|P1|1A", "2|P1|1B", "3|P1|2A", "4|P1|2B"],
        {("P1", "1A", "C1", 1), ("P1", "1B", "C1", 2), ("P1", "2A", "C1", 3), ("P1", "2B", "C1", 4)}, []),
    "panel and port under Port": (
        ["Cable C1", "Core|Port", *(f"{n}|P1/{n}" for n in range(1, 5))], {("P1", str(n), "C1", n) for n in range(1, 5)}, ["both in column port"]),
    "the panel in the heading": (
        ["Cable C1", "Core|House E port", *(f"{n}|{n}" for n in range(1, 5))], {("House E", str(n), "C1", n) for n in range(1, 5)},
        ["panel of column house e port"]),
    "headings below one another": (
        ["||End A||End B|", "Cable|Core|Panel|Port|Panel|Port", *(f"C1|{n}|P1|{n}|WB1|{n + 4}" for n in range(1, 5))],
        {("P1", str(n), "C1", n) for n in range(1, 5)} | {("WB1", str(n + 4), "C1", n) for n in range(1, 5)}, []),
    "beside one another": (
        ["Cable C1", "Core|Panel|Port||Core|Panel|Port", "1|P1|1||3|P1|3", "2|P1|2||4|P1|4"], {("P1", str(n), "C1", n) for n in range(1, 5)}, []),
}  # fmt: skip


@pytest.mark.parametrize("name", list(CASES))
def test_shapes_of_the_trade(name: str) -> None:
    """Each shape: what can be read two ways is asked under the key named here, nothing wrong comes before the answer, all after."""
    rows, truth, keys = CASES[name]
    reading = read("Site: Tannery", "", *rows)
    assert open_questions(reading) == keys
    assert made(reading) <= truth and (keys or made(reading) == truth)
    accounted(reading)
    assert made(agree(reading)) == truth
    accounted(reading)


@pytest.mark.parametrize(("cell", "asked"), [
    ("no light at 12 m", ""), ("U/S", ""), ("not broken", "'not broken' under 'Remark'"), ("swap with core 2", "'swap with core 2' under 'Remark'"),
    ("to be tested", ""),
])  # fmt: skip
def test_what_a_remark_says(cell: str, asked: str) -> None:
    """A fault said plainly is one; what may be one is asked; the rest is a note, letter for letter."""
    reading = read(
        "Site: T", "Cable|Core|Panel|Port|Remark", *(f"C1|{n}|P1|{n}|{cell if n == 3 else ''}" for n in range(1, 5))
    )
    assert open_questions(reading) == ([asked] if asked else [])
    row = reading.facts["cores"].set_index("core").loc[3]
    plain = {"no light at 12 m": ("faulty", 12.0), "U/S": ("faulty", None)}
    if cell in plain:
        assert row["condition"] == plain[cell][0] and (plain[cell][1] is None or row["fault_m"] == plain[cell][1])
    elif not asked:
        assert row["notes"] == cell


def test_struck_hidden_and_dates_wait(tmp_path: Path) -> None:
    """A line struck out, a hidden one, and a range that the spreadsheet made a date of are asked, and make no row before."""
    import datetime as dt

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["Site: T"], ["Cable", "Cores", "Panel", "Ports"], ["C1", 1, "P1", 1], ["C1", 2, "P1", 2], ["C1", 3, "P1", 3], ["C1", 4, "P1", 4],
                ["C1", dt.datetime(2024, 8, 5), "P1", "5-8"]):  # fmt: skip
        sheet.append(row)
    sheet["B4"].font = Font(strike=True)
    sheet.row_dimensions[5].hidden = True
    book.save(tmp_path / "list.xlsx")
    reading = read_list(tmp_path / "list.xlsx")
    keys = open_questions(reading)
    assert "struck out in 'Sheet'" in keys and "hidden in 'Sheet'" in keys and "'2024-08-05' under 'Cores'" in keys
    assert made(reading) <= {("P1", str(n), "C1", n) for n in (1, 4)}
    accounted(reading)
    reading.answer("struck out in 'Sheet'", "leave out").answer("hidden in 'Sheet'", "read them").answer(
        "'2024-08-05' under 'Cores'", "5-8"
    )
    agree(reading)
    assert made(reading) == {("P1", str(n), "C1", n) for n in (1, 3, 4, 5, 6, 7, 8)}
    accounted(reading)


def test_a_list_without_headings_is_read_by_pointing() -> None:
    """Three clicks on columns; the layout that comes of it reads the list again without a question."""
    rows = [f"C1|{n}|P1/{n}" for n in range(1, 5)]
    reading = read(*rows)
    assert made(reading) == set() and reading.counts()["question"] == 12
    reading.say("pasted", None, "A", "cable").say("pasted", None, 2, "core number").say(
        "pasted", None, "C", "a_panel_port"
    )
    assert made(reading) == {("P1", str(n), "C1", n) for n in range(1, 5)}
    reading.answer("site", "Tannery")
    agree(reading)
    again = read_text("\n".join(r.replace("|", "\t") for r in rows), layout=reading.layout())
    assert made(again) == made(reading) and again.asked == [] and set(again.facts["sites"]["site"]) == {"Tannery"}


def test_what_was_said_of_one_file_is_not_said_of_the_next() -> None:
    """A layout keeps what columns mean; the site and rows of one list are not taken for another's."""
    first = read("Cable|Core|Panel|Port", *(f"C1|{n}|P1|{n}" for n in range(1, 5)))
    agree(first.answer("site", "Tannery"))
    second = read_text(
        "\n".join(["Cable\tCore\tPanel\tPort", *(f"C9\t{n}\tP5\t{n}" for n in range(1, 5))]), layout=first.layout()
    )
    assert [q.key for q in second.asked] == ["site"]


def test_pointing_at_a_cell_holds_for_all_like_it() -> None:
    """One word said to mean faulty means it on every line; a title, a row and a column may be said too."""
    lines = [f"C1|{n}|P1|{n}|{'kept' if n > 6 else 'ok'}" for n in range(1, 9)]
    reading = read("Site: T", "Cable|Core|Panel|Port|Status", *lines, "checked twice")
    reading.say("pasted", 9, 5, "faulty").say("pasted", 11, 1, "leave out").say("pasted", 3, None, "leave out")
    cores = reading.facts["cores"].set_index("core")["condition"]
    assert cores.to_dict() == dict.fromkeys(range(2, 7), "sound") | {7: "faulty", 8: "faulty"}
    accounted(reading)
    with pytest.raises(InputError, match="no sheet"):
        reading.say("other", 1, 1, "core")
    with pytest.raises(InputError, match="a column is no"):
        reading.say("pasted", None, 1, "nonsense")


@pytest.mark.parametrize(
    "text",
    ["", "x = ", "[list]\nform = 2\n", '[list]\nform = 1\n[colums]\na = "core"', "[list]\nform = 1\n[columns]\na = 3"],
)
def test_a_layout_that_is_none_is_told(text: str) -> None:
    """Each fault of a kept layout is named."""
    with pytest.raises(LayoutError):
        read_text("a\tb", layout=text + "\n")


@pytest.mark.parametrize(
    ("name", "cores"), [("core_schedule.xlsx", 44), ("all_cores.csv", 92), ("panel_ports.xlsx", 32)]
)
def test_the_shipped_old_lists_are_read_without_their_layouts(name: str, cores: int, tmp_path: Path) -> None:
    """Nothing is among the facts that the layout, written by hand, does not say; every cell has its fate."""
    reg = fibrebook.create(tmp_path / "reg")
    fibrebook.bring_in(reg, LISTS / name, by="ab", why="by its layout", layout=(LISTS / name).with_suffix(".toml"))
    truth = reg.table("terminations")
    by_layout = {(t.enclosure, t.port + (t.position or ""), t.cable, t.core) for t in truth.itertuples()}
    reading = read_list(LISTS / name)
    accounted(reading)
    if name == "core_schedule.xlsx":  # its layout takes the place for the enclosure, and P1/21 for a port's label
        by_layout = {(*p.split("/"), c, n) for _, p, c, n in by_layout}
    plain = {(e.replace("-", ""), p, c.replace("-", "").replace(" ", "").upper(), n) for e, p, c, n in made(reading)}
    assert plain <= by_layout
    assert len(plain) > 0.5 * len(by_layout)


def test_garbage_is_accounted_for_too() -> None:
    """Whatever stands on a sheet, each cell has a fate and nothing breaks."""
    import random

    rng = random.Random(7)
    words = [
        "",
        "",
        "Core",
        "Port",
        "Cable",
        "Total",
        "Legend",
        "1",
        "2",
        "3-9",
        "blue",
        "Bl/Or",
        "Cable C1",
        "x",
        "P1/1",
        "Site: S",
        "-",
        "n/t",
        "=a",
        "Panel",
    ]
    for _ in range(250):
        rows = [[rng.choice(words) for _ in range(rng.randint(1, 6))] for _ in range(rng.randint(1, 9))]
        text = "\n".join("\t".join(r) for r in [["-", "."], *rows])
        reading = read_text(text)
        accounted(reading)
        for question in list(reading.asked)[:2]:
            reading.answer(question.key, question.proposals[0] if question.proposals else "leave out")
        accounted(reading)


def _work(lines: int) -> int:
    """How many functions are called and lines of ours run while a list of so many lines is read."""
    import sys

    rows = ["Site: T", "Cable|Core|Colour|Panel|Port|Far panel|Far port|Remark"]
    colours = ("blue", "orange", "green", "brown", "slate", "white", "red", "black", "yellow", "violet", "rose", "aqua")
    for n in range(lines):
        cable, core = divmod(n, 24)
        rows.append(
            f"C{cable}|{core + 1}|{colours[core % 12]}|P{cable}|{core + 1}|W{cable}|{core + 1}|{'no light' * (n % 97 == 0)}"
        )
    reading = read(*rows)
    count = 0

    def step(*_: object) -> object:
        nonlocal count
        count += 1
        return step

    before = sys.gettrace()
    sys.settrace(step)  # type: ignore[arg-type]
    try:
        assert len(reading.facts["terminations"]) == 2 * lines
        assert len(reading.cells) == sum(reading.counts().values())
    finally:
        sys.settrace(before)
    return count


def test_ten_times_the_lines_are_ten_times_the_work() -> None:
    """What grows faster than the list would make a long one wait: the work is counted, for a clock depends on the machine."""
    import math

    few, many = _work(240), _work(2400)
    assert math.log10(many / few) < 1.05
