"""A firm's usual colour code: written on new cables that say none, whichever way they come in, and on no other."""

from __future__ import annotations

import openpyxl
import pytest

import fibrebook
from fibrebook.errors import RuleError
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.records.model import FormModel
from fibrebook.workbook import bring_in, send_out

# Both orders as two independent lists print them (IEC 60304 as in DIN VDE 0888; TIA-598).
IEC = ["red", "green", "blue", "yellow"]
TIA = ["blue", "orange", "green", "brown"]
CABLE = {"a_enclosure": "P1", "b_enclosure": "P2", "core_count": 4, "fibre_class": "OS2", "length_m": 100}
LAYOUT = """
[fields.cable]
heading = "Cable"
[fields.cores]
heading = "Cores"
[fields.core]
heading = "Core"
[fields.colour]
heading = "Colour"
[[rows]]
table = "cables"
columns = { site = "Mill", cable = "{cable}", core_count = "{cores}" }
[[rows]]
table = "cores"
columns = { site = "Mill", cable = "{cable}", core = "{core}", core_colour = "{colour}" }
"""


@pytest.fixture
def reg(tmp_path):
    """A site with two panels and an old cable, brought in before the firm chose anything."""
    made = fibrebook.create(tmp_path / "reg", name="Test")
    with made.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": "Mill"}])
        edit.put("enclosures", [{"site": "Mill", "enclosure": e} for e in ("P1", "P2")])
        edit.put("cables", [{"site": "Mill", "cable": "old", **CABLE}])
    return made


def choose(reg, code):
    """Let the firm choose its usual code."""
    with reg.edit("ab", "our cables") as edit:
        edit.put("choices", [{"choice": "colour_code", "value": code}])


def colours(reg, cable):
    """The colours of a cable's cores, as the trace of each tells them."""
    out = []
    for core in range(1, 5):
        path = fibrebook.trace(reg, "Mill", ("core", cable, core))
        out += [c.removesuffix(" core") for c in path["colour"] if c]
    return out


def test_a_new_cable_takes_the_firm_s_code_and_an_old_one_keeps_its_own(reg):
    """The record says the code from then on: cores of the new cable are red, green..., those of the old stay blue..."""
    choose(reg, "DIN VDE 0888")
    with reg.edit("ab", "new cable") as edit:
        edit.put("cables", [{"site": "Mill", "cable": "new", **CABLE}])
        edit.put("cables", [{"site": "Mill", "cable": "said", "colour_code": "TIA-598", **CABLE}])
        edit.put("cables", [{"site": "Mill", "cable": "old", "route": "duct 4"}])
    codes = dict(zip(reg.table("cables")["cable"], reg.table("cables")["colour_code"].fillna(""), strict=True))
    assert codes == {"new": "DIN VDE 0888", "old": "", "said": "TIA-598"}
    assert (colours(reg, "new"), colours(reg, "old"), colours(reg, "said")) == (IEC, TIA, TIA)


def test_a_later_choice_recolours_nothing(reg):
    """Choosing another code, or none, changes no cable that is there."""
    choose(reg, "IEC 60304")
    with reg.edit("ab", "new cable") as edit:
        edit.put("cables", [{"site": "Mill", "cable": "new", **CABLE}])
    before = reg.cores().to_pylist()
    choose(reg, "Swiss")
    with reg.edit("ab", "no choice") as edit:
        edit.remove("choices", "colour_code")
    assert reg.cores().to_pylist() == before
    assert reg.usual_code() is None


def test_by_the_form_and_by_a_visit(reg):
    """A cable added by the form, or in a visit's draft, has the firm's colours; the draft shows them before it is saved."""
    choose(reg, "IEC 60304")
    form = FormModel.of("cables", reg.tables("Mill"), "Mill")
    form.values |= {"cable": "new"} | {name: str(value) for name, value in CABLE.items()}
    assert not form.faults()
    day = Day(reg, "Mill", by="CD", on="2026-11-20", done="pulled")
    day.keep("cables", "one cable", {"cables": [form.row()]})
    drafted = [r["core_colour"] for r in day.cores().to_pylist() if r["cable"] == "new"]
    assert drafted == IEC
    day.save()
    assert colours(reg, "new") == IEC


def test_by_the_workbook(reg, tmp_path):
    """A row typed into the sheet of cables without a code takes the firm's; going out again, the sheet says it."""
    choose(reg, "IEC 60304")
    send_out(reg, tmp_path / "out.xlsx")
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    sheet = book["cables"]
    heading = {cell.value: cell.column for cell in sheet[1]}
    at = sheet.max_row + 1
    for name, value in {"site": "Mill", "cable": "new", **CABLE}.items():
        sheet.cell(at, heading[name], value)
    book.save(tmp_path / "back.xlsx")
    bring_in(reg, tmp_path / "back.xlsx", by="ab", why="typed at the desk")
    assert colours(reg, "new") == IEC and colours(reg, "old") == TIA
    send_out(reg, tmp_path / "again.xlsx")
    again = openpyxl.load_workbook(tmp_path / "again.xlsx")["cables"]
    said = {
        row[heading["cable"] - 1].value: row[heading["colour_code"] - 1].value for row in again.iter_rows(min_row=2)
    }
    assert said["new"] == "IEC 60304" and not said["old"]


def test_by_a_layout(reg, tmp_path):
    """A firm's own list whose colours are right by its usual code brings no note; one in another order does."""
    (tmp_path / "list.toml").write_text('[table]\nheader_has = ["Cable"]\n' + LAYOUT, encoding="utf-8")
    book = openpyxl.Workbook()
    book.active.append(["Cable", "Cores", "Core", "Colour"])
    for number, colour in enumerate(IEC, 1):
        book.active.append(["listed", 4, number, colour])
    book.save(tmp_path / "list.xlsx")
    told = bring_in(reg, tmp_path / "list.xlsx", by="ab", why="list", layout=tmp_path / "list.toml", dry_run=True)
    assert any("colour says" in note for note in told.notes)
    choose(reg, "IEC 60304")
    told = bring_in(reg, tmp_path / "list.xlsx", by="ab", why="list", layout=tmp_path / "list.toml")
    assert not any("colour says" in note for note in told.notes)
    assert [r["core_colour"] for r in reg.cores().to_pylist() if r["cable"] == "listed"] == IEC
    assert reg.tables("Mill", ["cores"])["cores"].num_rows == 0  # nothing departs from the code


def test_the_firm_s_own_list_may_be_its_usual_one(reg):
    """A code of the firm's own, written in colour_codes, may be chosen; the same edit may bring both."""
    with reg.edit("ab", "our cables") as edit:
        edit.put("colour_codes", [{"colour_code": "ours", "position": n, "colour": c}
                                  for n, c in enumerate(["white", "red", "black", "green"], 1)])  # fmt: skip
        edit.put("choices", [{"choice": "colour_code", "value": "Ours"}])
        edit.put("cables", [{"site": "Mill", "cable": "new", **CABLE}])
    assert colours(reg, "new") == ["white", "red", "black", "green"]
    assert fibrebook.advice(reg).query("check in ('value left out', 'colour code not known')").empty


def test_a_code_that_nobody_knows_is_refused(reg):
    """A choice of an unknown code is refused when it is made, with the known ones."""
    with pytest.raises(RuleError) as error:
        choose(reg, "RAL")
    assert "IEC 60304" in str(error.value.problems[0])


@pytest.mark.parametrize("code", ["tia-598", "TIA 598", "ansi/tia-598-d", "iec60304", "swiss", "din vde 0888"])
def test_a_code_in_another_case_is_known(reg, code):
    """Capitals, spaces and editions do not make a colour code unknown (advice), and its colours are told."""
    with reg.edit("ab", "code") as edit:
        edit.put("cables", [{"site": "Mill", "cable": "old", "colour_code": code}])
    assert "colour code not known" not in set(fibrebook.advice(reg)["check"])
    assert len(colours(reg, "old")) == 4
    with reg.edit("ab", "code") as edit:
        edit.put("cables", [{"site": "Mill", "cable": "old", "colour_code": "RAL"}])
    assert "colour code not known" in set(fibrebook.advice(reg)["check"])
