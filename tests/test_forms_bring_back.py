"""The screen that brings copies back, without a browser: what is told, choices, the merge, and what is refused."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

import fibrebook
from fibrebook import screens
from fibrebook.errors import ConflictError, InputError, NotFoundError, ReadOnlyError
from fibrebook.screens.exchange.bring_back_model import BringingBack, copies_near, take_away
from fibrebook.screens.frame.conflicts import titles


def put(reg: fibrebook.Register, table: str, by: str = "CD", why: str = "changed", **row: Any) -> None:
    """Put one row in one commit."""
    with reg.edit(by, why) as edit:
        edit.put(table, [row])


@pytest.fixture
def reg(tmp_path: Path) -> fibrebook.Register:
    """Two sites with a cable each, and a contact."""
    made = fibrebook.create(tmp_path / "office", name="Test")
    with made.edit("AB", "set up") as edit:
        for site in ("Mill", "Barn"):
            edit.put("sites", [{"site": site, "contact": "gatekeeper"}])
            edit.put("enclosures", [{"site": site, "enclosure": e} for e in ("P1", "P2")])
            edit.put("ports", [{"site": site, "enclosure": "P1", "port": n} for n in (1, 2, 3)])
            edit.put("cables", [{"site": site, "cable": "C1", "a_enclosure": "P1", "b_enclosure": "P2",
                                 "core_count": 12, "length_m": 80, "notes": "dry"}])  # fmt: skip
    return made


@pytest.fixture
def van(reg: fibrebook.Register, tmp_path: Path) -> fibrebook.Register:
    """A copy of one site without personal data."""
    return reg.take_away(tmp_path / "van", "Mill", personal=False)


def both_change(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """Two cells of one cable changed on both sides, a third only in the copy, a fourth only here."""
    put(van, "cables", site="Mill", cable="C1", length_m=90.25, notes="wet", route="ditch")
    put(reg, "cables", "EF", site="Mill", cable="C1", length_m=90.3, notes="damp", sheath="LSZH")


def cable(reg: fibrebook.Register) -> Any:
    """The mill's cable as it is in a register."""
    return reg.table("cables", "Mill").iloc[0]


def files(*places: Path) -> dict[str, bytes]:
    """Every file of some folders."""
    return {str(p): p.read_bytes() for place in places for p in place.rglob("*") if p.is_file()}


# --- what is told ----------------------------------------------------------------------------------------------------
def test_what_a_copy_is(reg: fibrebook.Register, van: fibrebook.Register, tmp_path: Path) -> None:
    """Which sites, from which commit, when, and what was left out; a whole copy says that it is whole."""
    model = BringingBack(reg)
    model.look(tmp_path / "van")
    taken, left = model.about()
    assert taken.startswith("A copy of 1 site (Mill), taken 20") and "from commit 1 of 20" in taken
    assert left.startswith("Left out: ") and "site (" in left and "Contact" in left
    assert model.to_bring() == "Nothing was done in it since it was taken."
    reg.take_away(tmp_path / "whole")
    model.look(tmp_path / "whole")
    assert model.about()[0].startswith("A copy of the whole register with its past, as it stood at commit 1 of 20")
    reg.take_away(tmp_path / "thin", personal=False)
    model.look(tmp_path / "thin")
    assert model.about()[0].startswith("A copy of all 2 sites, taken 20")


def test_what_was_done_in_it_and_what_is_here_already(
    reg: fibrebook.Register, van: fibrebook.Register, tmp_path: Path
) -> None:
    """Each commit of the copy with who, why and what it touches, newest first, and as which commit it stands here."""
    put(van, "cables", "CD", "paced out", site="Mill", cable="C1", length_m=95)
    put(reg, "sites", "EF", site="Barn", notes="seen")
    assert reg.bring_back(van.where, "AB", "first half") == 3
    put(van, "enclosures", "GH", "new box", site="Mill", enclosure="P3")
    model = BringingBack(reg)
    model.look(van.where)
    told = model.commits()
    assert told[["here", "by", "why", "tables", "sites"]].values.tolist() == [
        ["not yet", "GH", "new box", "enclosures", "Mill"],
        ["commit 3", "CD", "paced out", "cables", "Mill"],
    ]
    assert model.to_bring() == "1 commit to bring back; 1 here already."
    assert model.changes() == ["Mill: 1 enclosure new: P3"]


def test_upkeep_of_the_copy_itself_is_not_brought(
    reg: fibrebook.Register, van: fibrebook.Register, tmp_path: Path
) -> None:
    """A copy that personal data was taken out of has a commit with nothing to bring; it is told as that."""
    put(van, "sites", site="Mill", contact="new keeper", notes="seen")
    van.redact("CD", "asked for", site="Mill")
    model = BringingBack(reg)
    model.look(van.where)
    assert model.commits()["here"].tolist() == ["nothing to bring", "not yet"]
    assert model.to_bring() == "1 commit to bring back; 1 with nothing to bring."
    assert model.bring_back("AB", "").commits == (2,)


def test_nothing_is_written_by_looking(reg: fibrebook.Register, van: fibrebook.Register, tmp_path: Path) -> None:
    """Looking, choosing and looking again leave every file of the register and of the copy as it was."""
    both_change(reg, van)
    before = files(tmp_path)
    model = BringingBack(reg)
    model.look(van.where)
    model.choose(["mine", "theirs"])
    model.look_again()
    assert model.changes() and files(tmp_path) == before
    screen = screens.bring_back(reg, van.where)
    screen.grid.choose_all("mine")
    assert files(tmp_path) == before


# --- conflicts -------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("sides", [["mine", "theirs"], ["theirs", "mine"], ["mine", "mine"], ["theirs", "theirs"]])
def test_what_is_chosen_is_what_was_shown_and_what_is_brought(
    reg: fibrebook.Register, van: fibrebook.Register, sides: list[str]
) -> None:
    """Each conflict decided each way: the changes shown beforehand are the register's differences afterwards."""
    both_change(reg, van)
    model = BringingBack(reg)
    seen = model.look(van.where)
    assert titles(seen.conflicts) == ["cable Mill / C1: Length (m)", "cable Mill / C1: Notes"]
    assert seen.conflicts[["base", "theirs", "mine"]].values.tolist() == [[80, 90.3, 90.25], ["dry", "damp", "wet"]]
    assert model.chosen == ["", ""] and seen.undecided == [0, 1]
    model.choose(sides)
    shown = model.look_again()
    assert shown.undecided == [] and model.chosen == sides
    before = reg.commit
    assert model.bring_back("AB", "back").commits == (before + 1,)
    columns = ["table", "key", "column", "before", "after"]
    assert shown.changes[columns].values.tolist() == reg.differences(before)[columns].values.tolist()
    length, notes = ((90.25, 90.3)[sides[0] == "theirs"], ("wet", "damp")[sides[1] == "theirs"])
    assert (cable(reg).length_m, cable(reg).notes) == (length, notes)
    assert (cable(reg).route, cable(reg).sheath) == ("ditch", "LSZH")
    assert reg.table("sites", "Mill").contact[0] == "gatekeeper"
    assert reg.log()[["by", "why"]].iloc[-1].tolist() == ["CD", "changed"]


def test_without_a_choice_nothing_is_brought(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """A conflict that is left open is asked for; who brings it back is too."""
    both_change(reg, van)
    model = BringingBack(reg)
    model.look(van.where)
    model.choose(["mine", ""])
    with pytest.raises(InputError, match=r"1 value\(s\) have no choice yet"):
        model.bring_back("AB", "back")
    model.choose(["mine", "theirs"])
    with pytest.raises(InputError, match="initials"):
        model.bring_back(" ", "back")
    assert reg.commit == 2


def test_a_choice_holds_only_for_the_values_it_was_made_on(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """Somebody changes a value after the choice: it is asked again; the choice on the other one stays."""
    both_change(reg, van)
    model = BringingBack(reg)
    model.look(van.where)
    model.choose(["mine", "mine"])
    put(reg, "cables", "EF", site="Mill", cable="C1", notes="flooded")
    with pytest.raises(ConflictError, match="changed meanwhile"):
        model.bring_back("AB", "back")
    assert model.chosen == ["mine", ""] and reg.commit == 3
    model.choose(["mine", "theirs"])
    assert model.bring_back("AB", "back").commits == (4,) and cable(reg).notes == "flooded"


def test_what_was_done_in_the_copy_since_the_look_is_shown_first(
    reg: fibrebook.Register, van: fibrebook.Register
) -> None:
    """Nothing comes in that was not shown."""
    put(van, "cables", site="Mill", cable="C1", length_m=95)
    model = BringingBack(reg)
    model.look(van.where)
    put(van, "cables", site="Mill", cable="C1", notes="wet")
    with pytest.raises(ConflictError, match="more was done in the copy"):
        model.bring_back("AB", "back")
    assert reg.commit == 1 and len(model.commits()) == 2
    assert model.bring_back("AB", "back").commits == (2, 3)


def test_a_record_removed_on_one_side_is_decided_whole(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """Removed in the copy, changed here: one conflict about the whole record."""
    with van.edit("CD", "pulled out") as edit:
        edit.remove("cables", ("Mill", "C1"))
    put(reg, "cables", "EF", site="Mill", cable="C1", notes="damp")
    model = BringingBack(reg)
    seen = model.look(van.where)
    assert titles(seen.conflicts) == ["cable Mill / C1: the whole record"]
    assert seen.conflicts[["theirs", "mine"]].values.tolist() == [["changed", "removed"]]
    model.choose(["mine"])
    model.bring_back("AB", "back")
    assert reg.table("cables", "Mill").empty


def test_rules_broken_together_are_told_in_words(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """One core in two ports: the preview says so, nothing is brought; put right here, it is."""
    put(van, "terminations", site="Mill", enclosure="P1", port=1, cable="C1", core=1)
    put(reg, "terminations", "EF", site="Mill", enclosure="P1", port=2, cable="C1", core=1)
    model = BringingBack(reg)
    model.look(van.where)
    told = model.broken()
    assert "cannot stand" in told[0] and "Put it right here or in the copy" in told[0]
    assert any("joined twice" in line for line in told[1:])
    with pytest.raises(ConflictError, match="joined twice"):
        model.bring_back("AB", "back")
    assert reg.commit == 2
    put(reg, "terminations", "EF", site="Mill", enclosure="P1", port=2, cable="C1", core=2)
    model.look_again()
    assert model.broken() == [] and model.bring_back("AB", "back").commits == (4,)


# --- afterwards ------------------------------------------------------------------------------------------------------
def test_brought_twice_changes_nothing(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """The second time says that all is here; the register has no new commit."""
    both_change(reg, van)
    model = BringingBack(reg)
    model.look(van.where)
    model.choose(["theirs", "theirs"])
    model.bring_back("AB", "back")
    assert model.to_bring() == "All that was done in it is here already; there is nothing to bring back."
    assert model.changes() == [] and len(model.seen.conflicts) == 0
    again = model.bring_back("AB", "again")
    assert again.commits == () and "nothing was changed" in again.in_words() and reg.commit == 3


def test_what_was_done_can_be_undone_as_it_says(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """The commits are named, the last one to be undone first; undone so, all is as before, and stays so."""
    put(van, "cables", site="Mill", cable="C1", length_m=95)
    put(van, "cables", site="Mill", cable="C1", length_m=96, notes="wet")
    before = cable(reg)
    model = BringingBack(reg)
    model.look(van.where)
    done = model.bring_back("AB", "back")
    assert "brought back as commits 2 to 3" in done.in_words() and "commit 3 first" in done.in_words()
    for number in reversed(done.commits):
        reg.undo(number, "AB", "taken back")
    assert cable(reg).equals(before)
    model.look(van.where)
    assert "nothing to bring back" in model.to_bring()


def test_the_reason_may_be_left_to_the_screen(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """Why it was brought back is the copy's name where nothing is said; no path of a machine is kept."""
    put(van, "cables", site="Mill", cable="C1", length_m=95)
    model = BringingBack(reg)
    model.look(van.where)
    model.bring_back("AB", " ")
    kept = b"".join(p.read_bytes() for p in Path(reg.where).glob("commits/*"))
    assert b'"brought_why": "the copy van"' in kept or b'"brought_why":"the copy van"' in kept
    assert str(Path(van.where).parent).encode() not in kept


# --- what is refused -------------------------------------------------------------------------------------------------
def test_a_folder_that_is_no_copy_is_told_in_words(
    reg: fibrebook.Register, van: fibrebook.Register, tmp_path: Path
) -> None:
    """None named, none there, a file, an empty one, one beside the copy, one broken off, the register itself."""
    model = BringingBack(reg)
    (tmp_path / "empty").mkdir()
    (tmp_path / "list.csv").write_text("a")
    shutil.copytree(van.where, tmp_path / "half")
    (tmp_path / "half" / "register.json").unlink()
    for folder, error, words in (
        (" ", InputError, "no folder is named"),
        (tmp_path / "none", NotFoundError, "there is no folder"),
        (tmp_path / "list.csv", NotFoundError, "is a file"),
        (tmp_path / "empty", NotFoundError, "holds no copy of the register; name the folder"),
        (tmp_path, NotFoundError, f"there is one in it: {tmp_path / 'van'}"),
        (tmp_path / "half", NotFoundError, "broken off"),
        (reg.where, InputError, "is this register itself"),
    ):
        with pytest.raises(error) as caught:
            model.look(folder)
        assert words in str(caught.value)
        assert model.seen is None
    with pytest.raises(InputError, match="no copy is looked at"):
        model.bring_back("AB", "back")


def test_a_copy_of_another_register_is_refused(reg: fibrebook.Register, tmp_path: Path) -> None:
    """It is told apart, and what was looked at before is not brought in its place."""
    other = fibrebook.create(tmp_path / "other")
    put(other, "sites", site="Mill")
    other.take_away(tmp_path / "their-van")
    with pytest.raises(InputError, match="is no copy of"):
        BringingBack(reg).look(tmp_path / "their-van")


def test_a_site_of_the_same_label_is_refused(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """A site made in the copy under a label that another site has here: told, until it is relabelled in the copy."""
    put(van, "sites", site="Barn", name="another barn")
    model = BringingBack(reg)
    with pytest.raises(InputError, match=r"made a site 'Barn'.*relabel"):
        model.look(van.where)
    with van.edit("CD", "relabelled") as edit:
        edit.rename("sites", "Barn", "Barn", "Barn 2")
    model.look(van.where)
    assert model.changes() == ["Barn 2: 1 site new: Barn 2"]
    assert model.bring_back("AB", "back").commits and reg.sites() == ["Barn", "Barn 2", "Mill"]


def test_a_register_opened_read_only_can_look_but_not_bring(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """The preview is there; the merge is refused in words."""
    put(van, "cables", site="Mill", cable="C1", length_m=95)
    model = BringingBack(fibrebook.open(reg.where, read_only=True))
    model.look(van.where)
    assert model.changes() == ["Mill: 1 cable changed: C1"]
    with pytest.raises(ReadOnlyError):
        model.bring_back("AB", "back")


# --- taking away -----------------------------------------------------------------------------------------------------
def test_take_away_says_what_was_taken(reg: fibrebook.Register, tmp_path: Path) -> None:
    """Some sites without personal data, or all; a place that is taken, or that cannot be written, is told in words."""
    told = take_away(reg, str(tmp_path / "stick"), ["Mill"], personal=False)
    assert told.startswith("1 site as at commit 1, without contacts") and str(tmp_path / "stick") in told
    copy = fibrebook.open(tmp_path / "stick")
    assert copy.sites() == ["Mill"] and copy.table("sites").contact.isna().all()
    assert take_away(reg, f' "{tmp_path / "all"}" ', []).startswith("the whole register as at commit 1 is in")
    assert fibrebook.open(tmp_path / "all").sites() == ["Barn", "Mill"]
    (tmp_path / "file").write_text("x")
    for folder, words in (
        ("", "no folder is named"),
        (str(tmp_path / "all"), "already"),
        (str(tmp_path / "file"), "cannot be written"),
        (str(tmp_path / "office" / "copy"), "inside the register"),
    ):
        with pytest.raises(InputError, match=words):
            take_away(reg, folder, [])
    assert not (tmp_path / "office" / "copy").exists()


def test_copies_are_offered(reg: fibrebook.Register, van: fibrebook.Register, tmp_path: Path) -> None:
    """Copies of this register in a folder or just in it; not itself, not another register, not half a one."""
    fibrebook.create(tmp_path / "other")
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "register.json").write_text("{")
    assert copies_near(reg, tmp_path) == [str(tmp_path / "van")]
    assert copies_near(reg, tmp_path / "van", tmp_path / "none") == [str(tmp_path / "van")]


# --- the screen ------------------------------------------------------------------------------------------------------
def test_the_screen_from_a_look_to_the_merge(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """A choice left open is marked and nothing happens; one button chooses all; then it is brought back and told."""
    both_change(reg, van)
    screen = screens.bring_back(reg)
    screen.folder.value = str(van.where)
    screen.look()
    screen.by.value = "AB"
    screen.guard(screen.bring_back)
    assert "2 value(s) have no choice yet" in screen.said and sorted(screen.grid.faults) == ["0:choice", "1:choice"]
    screen.grid.values = [{"choice": "theirs"}, {"choice": ""}]
    screen.guard(screen.bring_back)
    assert "1 value(s) have no choice yet" in screen.said and list(screen.grid.faults) == ["1:choice"]
    screen.grid.choose_all("mine")
    screen._sum_up.now()  # where a loop runs it is done a moment later
    assert screen.grid.faults == {} and screen.model.seen.undecided == []
    screen.guard(screen.bring_back)
    assert "brought back as commit 3" in screen.said and screen._saving.layout.display == "none"
    assert (cable(reg).length_m, cable(reg).notes) == (90.25, "wet")


def test_more_work_in_the_copy_is_shown_before_it_is_brought(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """A commit made in the copy after the look stops the merge once, and stands in the list then."""
    both_change(reg, van)
    screen = screens.bring_back(reg, van.where)
    screen.by.value = "AB"
    screen.grid.choose_all("theirs")
    put(van, "enclosures", site="Mill", enclosure="P9")
    screen.guard(screen.bring_back)
    assert "more was done in the copy" in screen.said and reg.commit == 2
    assert screen.model.changes() == ["Mill: 1 enclosure new: P9", "Mill: 1 cable changed: C1"]
    screen.guard(screen.bring_back)
    assert "brought back as commits 3 to 4" in screen.said


def test_news_keeps_the_choices_that_still_hold(reg: fibrebook.Register, van: fibrebook.Register) -> None:
    """Somebody saves while choices are made: those on values that stayed remain, the other is asked again."""
    both_change(reg, van)
    screen = screens.bring_back(reg, van.where)
    screen.grid.choose_all("mine")
    put(reg, "sites", "EF", site="Barn", notes="seen")
    screen.watch.refresh()
    assert screen.grid.choices == ["mine", "mine"] and screen.said == ""
    put(reg, "cables", "EF", site="Mill", cable="C1", notes="flooded")
    screen.watch.refresh()
    assert screen.grid.choices == ["mine", ""] and "choose again" in screen.said
    assert screen.grid.rows[1]["cells"]["theirs"] == "flooded"


def test_a_copy_taken_on_the_screen_is_named_for_the_way_back(reg: fibrebook.Register, tmp_path: Path) -> None:
    """Sites one after another, one taken out again; afterwards the folder stands where it is to be brought back."""
    screen = screens.bring_back(reg)
    away = screen.away
    away.site.value = "Mill"
    away.site.value = "Barn"
    assert away.sites == ["Mill", "Barn"] and away.site.value == ""
    away._drop("Barn")
    away.without.value, away.folder.value = True, str(tmp_path / "stick")
    away.take()
    assert "1 site as at commit 1, without" in screen.said
    screen.look()
    assert screen.model.about()[0].startswith("A copy of 1 site (Mill)")
