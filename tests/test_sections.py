"""Sections of a visit by their contract: a state and functions of it, told without a widget; echoes are no events."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from typing import Any

import pytest

import fibrebook
from fibrebook.errors import InputError
from fibrebook.register.photos import keep_photo
from fibrebook.screens import record_visit
from fibrebook.screens.frame.section import Event, Section, Shown
from fibrebook.screens.recording.cords import CordSection
from fibrebook.screens.recording.photos import PhotoSection
from fibrebook.screens.recording.plain_sections import PORTS, SETTLE, CablesSection, EquipmentSection, SnagsSection
from fibrebook.screens.recording.rows.cords import CROSSED, USUAL
from fibrebook.screens.recording.tests import TestSection
from fibrebook.screens.recording.tray import TraySection
from fibrebook.screens.recording.visit_draft import Day

_spec = importlib.util.spec_from_file_location("work", Path(__file__).parent / "browser" / "work.py")
assert _spec and _spec.loader
work = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(work)

OURS = [CablesSection, CordSection, EquipmentSection, PhotoSection, SnagsSection, TestSection, TraySection]


@pytest.fixture
def reg(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> fibrebook.Register:
    """The small register of one mill."""
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "drafts"))
    return work.make_small(tmp_path / "register")


@pytest.fixture
def day(reg: fibrebook.Register) -> Day:
    """A day at the mill."""
    return Day(reg, "Mill", by="CD", on="2026-11-20")


def after(section: Section[Any, Any], day: Day, *events: tuple[str, Any]) -> Any:
    """The state that events make, from the beginning."""
    state = section.follow(section.begin(), day)
    for of, value in events:
        state = section.after(state, Event(of, value), day)
    return state


ENDS = [("a", ("SW1 / 1", "")), ("b", ("P1 / 1", ""))]


# --- the contract --------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("kind", OURS)
def test_a_section_begins_with_nothing(kind: Any, day: Day) -> None:
    """Nothing is begun, nothing blocks; a draft of it says so, and following the register types nothing."""
    section = kind()
    for state in (section.begin(), section.follow(section.begin(), day)):
        assert not section.begun(state) and section.blocks_saving(state) == ()
        assert not section.begun(section.from_json(json.loads(json.dumps(section.to_json(state)))))


@pytest.mark.parametrize("kind", OURS)
def test_a_draft_that_is_none_is_refused(kind: Any) -> None:
    """What was changed by hand is not taken for a state."""
    section = kind()
    spoilt = {"what": 7, "a": 7, "typed": 7, "forms": 7}
    for kept in (spoilt, {"files": "x", "how": "glued", "chosen": {"cable": 7}, "forms": []}, []):
        with pytest.raises((TypeError, ValueError, LookupError, AttributeError)):
            section.from_json(kept)


def test_what_widgets_say_while_they_are_shown_is_no_event(reg: fibrebook.Register) -> None:
    """Everything that a state holds is shown, and nobody is told of a thing typed; what a person does is told once."""
    screen = record_visit(reg)
    screen.site.value = "Mill"
    for part in [p for p in screen.sections if isinstance(p, Shown)]:
        heard: list[Event] = []
        of = part.section.after
        part.section.after = lambda s, e, d, of=of, heard=heard: heard.append(e) or of(s, e, d)  # type: ignore[method-assign]
        part.restore(
            {
                "a": "SW1 / 1",
                "b": "P1 / 1",
                "cord": "PC-7",
                "length": "3",
                "temporary": True,
                "what": "lid",
                "where": "P1",
            }
        )
        part.refresh()
        part.forget()
        assert heard == []
    cords = next(p for p in screen.sections if p.name == "cords")
    assert cords.section.cord.value == "PC-7" and cords.section.temporary.value is True
    cords.section.length.value = "4"
    assert cords.state.length == "4" and cords.section.ends["a"].value == "SW1 / 1"


# --- cords ---------------------------------------------------------------------------------------------------------
def test_a_cord_s_polarity_is_told_before_it_is_added(day: Day) -> None:
    """Once both ends are chosen, and again for another sort of cord; with one end there is nothing to tell."""
    section = CordSection()
    assert after(section, day, ENDS[0]).polarity == ()
    usual = after(section, day, *ENDS)
    assert any("strand 2: SW1/1/Rx to P1/1/A" in line for line in usual.polarity)
    crossed = after(section, day, *ENDS, ("how", CROSSED))
    assert any("strand 2: SW1/1/Rx to P1/1/B" in line for line in crossed.polarity)


def test_a_cord_added_is_rows_and_leaves_a_blank_form(day: Day) -> None:
    """Two strands under one source; the sort of cord stays as chosen; the label proposed next goes on."""
    section = CordSection()
    state = after(section, day, *ENDS, ("length", "2,5"), ("temporary", True), ("how", CROSSED))
    assert state.cord == "PC-001" and section.begun(state)
    made = section.made(state, day)
    assert made.source == "cord PC-001" and [r["length_m"] for r in made.put["patches"]] == ["2.5", "2.5"]
    assert all(r["temporary"] is True and r["fitted_on"] == "2026-11-20" for r in made.put["patches"])
    assert not section.begun(made.state) and made.state.how == CROSSED != USUAL
    day.keep(made.source, made.title, made.put)
    left = section.follow(made.state, day)
    assert left.cord == "PC-002" and "P1 / 1" not in [name for name, *_ in left.free]


def test_a_place_that_is_none_blocks_the_save(day: Day) -> None:
    """It is named, cannot be added, and goes into the draft as typed."""
    section = CordSection()
    state = after(section, day, ("a", ("", "P77")))
    assert "'P77' matches no free port" in section.blocks_saving(state)[0]
    with pytest.raises(InputError, match="P77"):
        section.made(state, day)
    assert section.from_json(section.to_json(state)).a_typed == "P77"
    assert section.blocks_saving(section.after(state, Event("a", ("SW1 / 1", "")), day)) == ()


# --- photos --------------------------------------------------------------------------------------------------------
def test_photos_added_are_rows_with_the_labels_that_come_next(reg: fibrebook.Register, day: Day) -> None:
    """What and where stand in each and stay for the next; without a picture nothing is put."""
    from test_forms_photos import drawn

    section = PhotoSection()
    files = tuple(keep_photo(reg, drawn(words)) for words in ("lid", "tray"))
    nothing = section.made(after(section, day, ("what", " lid ")), day)
    assert not nothing.put and "choose the files first" in nothing.said
    made = section.made(after(section, day, ("what", " lid "), ("files", files)), day)
    rows = made.put["photos"]
    assert [(r["photo"], r["file"], r["what"], r["where"]) for r in rows] == [
        ("F1", files[0], "lid", None), ("F2", files[1], "lid", None),
    ]  # fmt: skip
    assert made.state.files == () and made.state.what == " lid "
    day.keep(made.source, made.title, made.put)
    left = section.follow(made.state, day)
    assert left.count == 2 and [p["photo"] for p in left.there] == ["F1", "F2"]


def test_pictures_are_made_small_once(reg: fibrebook.Register, monkeypatch: pytest.MonkeyPatch) -> None:
    """Typing a word does not read the photos again."""
    from test_forms_photos import drawn

    from fibrebook.screens.recording import photos

    made: list[str] = []
    whole = photos.photo_html
    monkeypatch.setattr(photos, "photo_html", lambda reg, found: made.append(found["photo"]) or whole(reg, found))
    screen = record_visit(reg)
    screen.site.value = "Mill"
    part = next(p for p in screen.sections if p.name == "photos")
    part.tell(Event("files", (keep_photo(reg, drawn("lid")),)))
    for words in ("l", "li", "lid"):
        part.section.what.value = words
    assert part.state.what == "lid" and made == ["new 1"]
    part.add()
    assert screen.said.startswith("1 photo(s) are in the visit") and made == ["new 1", "F1"]


# --- forms: snags --------------------------------------------------------------------------------------------------
NEW = "New snag"


def test_a_new_snag_has_the_next_label_and_the_visit_s_day(day: Day) -> None:
    """They are proposed and are nothing begun; added, the label goes on and the form is blank."""
    section = SnagsSection()
    state = after(section, day)
    assert state.forms[NEW].given == {"snag": "S2", "found_on": "2026-11-20"} and not section.begun(state)
    state = section.after(state, Event("typed", (NEW, "what", "gland loose")), day)
    assert section.begun(state)
    made = section.made(state, day, NEW)
    (row,) = made.put["snags"]
    assert (made.source, made.title) == ("snags S2", "snag S2")
    assert (row["site"], row["snag"], row["what"], row["found_on"]) == ("Mill", "S2", "gland loose", "2026-11-20")
    assert not section.begun(made.state)
    day.keep(made.source, made.title, made.put)
    left = section.follow(made.state, day)
    assert left.forms[NEW].values["snag"] == "S3" and {label for _, label in left.open} == {"S1", "S2"}


def test_what_is_wrong_with_a_form_is_told_once_it_is_touched_and_all_of_it_on_adding(reg: Any, day: Day) -> None:
    """Nothing is put then; the fields show what is missing, and the message names it."""
    section = SnagsSection()
    state = section.after(after(section, day), Event("typed", (NEW, "snag", "S1")), day)
    assert "already" in state.forms[NEW].faults["snag"]
    made = section.made(state, day, NEW)
    assert not made.put and "not complete" in str(made.refused) and "already" in str(made.refused)
    assert set(made.state.forms[NEW].touched) >= {"snag", "what", "where"}
    screen = record_visit(reg)
    screen.site.value = "Mill"
    part = next(p for p in screen.sections if p.name == "snags")
    part.section.fields[NEW].fields["snag"].control.value = "S1"
    part.add(NEW)
    assert "not complete" in screen.said and screen.day.parts == {}
    assert "fb-field-wrong" in part.section.fields[NEW].fields["snag"]._dom_classes


def test_a_snag_is_settled_on_the_day_and_by_the_hand_of_the_visit(day: Day) -> None:
    """It is open no more then; where none is open, that is said and nothing is put."""
    section = SnagsSection()
    state = after(section, day)
    assert state.chosen == "S1"
    made = section.made(state, day, SETTLE)
    assert made.put == {"snags": [{"site": "Mill", "snag": "S1", "done_on": "2026-11-20", "done_by": "CD"}]}
    day.keep(made.source, made.title, made.put)
    left = section.follow(made.state, day)
    assert left.open == () and left.chosen is None
    nothing = section.made(left, day, SETTLE)
    assert not nothing.put and "no open snag" in nothing.said


def test_a_form_goes_into_a_draft_and_back(day: Day) -> None:
    """What is typed, which form is shown, and which label was only proposed; a column or day that is none is refused."""
    section = SnagsSection()
    typed = section.after(after(section, day), Event("typed", (NEW, "what", "mud")), day)
    for state, begun in ((typed, True), (after(section, day), False)):
        again = section.follow(section.from_json(json.loads(json.dumps(section.to_json(state)))), day)
        assert again.forms[NEW].values == state.forms[NEW].values and section.begun(again) is begun
    for forms in ({NEW: {"no such": "x"}}, {NEW: {"found_on": "never"}}, {NEW: {"what": 7}}, {NEW: [7]}):
        with pytest.raises((TypeError, ValueError, LookupError)):
            section.from_json({"forms": forms})
    assert section.from_json({"forms": {"gone": {"what": "x"}}, "on": "gone"}).on == NEW


# --- forms: equipment ----------------------------------------------------------------------------------------------
def test_what_one_form_adds_the_next_may_lead_to(day: Day) -> None:
    """An interface's equipment is chosen among what is there, what the visit adds included; each form keeps its own."""
    section = EquipmentSection()
    state = after(section, day, ("typed", ("Equipment", "equipment", "SW9")), ("typed", ("Channel", "channel", "CH9")))
    assert "SW9" not in state.forms["Interface"].choices["equipment"]
    made = section.made(state, day, "Equipment")
    assert made.said.startswith("equipment SW9 is in the visit") and made.state.forms["Channel"].given == {
        "channel": "CH9"
    }
    day.keep(made.source, made.title, made.put)
    left = section.follow(made.state, day)
    assert "SW9" in left.forms["Interface"].choices["equipment"]
    named = section.after(left, Event("typed", ("Interface", "equipment", "SW8")), day)
    assert "no equipment SW8" in named.forms["Interface"].faults["equipment"]


# --- forms: cables -------------------------------------------------------------------------------------------------
def test_the_ports_of_a_panel_are_added_as_they_stand(day: Day) -> None:
    """As typed beside the forms; they stay there for the next panel, and a row the wrong way round is refused."""
    section = CablesSection()
    state = after(section, day)
    assert state.enclosures == ("J1", "P1", "P2") and (state.panel, state.first, state.last) == ("J1", "1", "12")
    state = after(section, day, ("panel", "P2"), ("first", "7"), ("last", "8"), ("duplex", False), ("connector", "LC"))
    made = section.made(state, day, PORTS)
    assert [(r["enclosure"], r["port"], r["connector"]) for r in made.put["ports"]] == [
        ("P2", "7", "LC"), ("P2", "8", "LC"),
    ]  # fmt: skip
    assert made.state is state and made.title == "ports 7 to 8 of P2"
    with pytest.raises(InputError):
        section.made(section.after(state, Event("last", "3"), day), day, PORTS)


def test_which_part_of_a_section_is_shown_is_a_state_and_nothing_typed(reg: fibrebook.Register) -> None:
    """Turning to another part is kept with a draft, and asks for none by itself."""
    screen = record_visit(reg)
    screen.site.value = "Mill"
    part = next(p for p in screen.sections if p.name == "cables")
    screen.sum_up.now()
    screen.keep_draft.now()
    asked: list[str] = []
    screen.typed = lambda: asked.append("typed")  # type: ignore[method-assign]
    part.section.steps.turn_to("Core")
    assert part.state.on == "Core" and part.kept()["on"] == "Core" and asked == []
    part.section.fields["Core"].fields["reserved_for"].control.value = "lift"
    assert asked == ["typed"] and part.state.forms["Core"].given == {"reserved_for": "lift"}
    part.restore({"on": "Location"})
    assert part.section.steps.on == "Location"


# --- tests ---------------------------------------------------------------------------------------------------------
def filled(state: Any, **cells: str) -> list[dict[str, Any]]:
    """The grid with some cells of its first core filled in."""
    return [{**row, **(cells if n == 0 else {})} for n, row in enumerate(state.values)]


def test_readings_stand_as_they_are_typed(day: Day) -> None:
    """No "Add": a figure is a row at once, with who, when and how; another instrument or hand makes other rows."""
    section = TestSection()
    state = after(section, day)
    assert state.cable == "C1" and state.columns[-1] == "verdict" and len(state.values) == 12
    first = state.columns[0]
    state = section.after(state, Event("values", filled(state, **{first: "0,4", "verdict": "pass"})), day)
    stands = section.standing(state)
    assert stands is not None and stands.source == "test C1 loss test" and stands.title == "C1: 1 loss test"
    (row,) = stands.put["tests"]
    assert (row["core"], row["loss_db"], row["tested_by"], row["instrument"]) == (1, "0.4", "CD", None)
    state = section.after(state, Event("instrument", "meter 3"), day)
    assert section.standing(state).put["tests"][0]["instrument"] == "meter 3"
    day.by = "EF"
    state = section.head_changed(state, day)
    assert section.standing(state).put["tests"][0]["tested_by"] == "EF"
    again = section.from_json(json.loads(json.dumps(section.to_json(state))))
    assert section.follow(again, day).values == state.values


def test_another_cable_shows_another_grid_and_keeps_the_first(day: Day) -> None:
    """What was typed comes back with its cable; rows that stand are left alone meanwhile."""
    section = TestSection()
    state = after(section, day)
    first = state.columns[0]
    state = section.after(state, Event("values", filled(state, **{first: "0.4"})), day)
    other = section.after(state, Event("cable", "C2"), day)
    assert section.standing(other) is section.standing(state) and set(other.values[0].values()) == {""}
    back = section.after(other, Event("cable", "C1"), day)
    assert back.values == state.values


def test_a_figure_that_is_none_blocks_the_save_until_it_is_put_right_or_taken_out(day: Day) -> None:
    """Also while another cable is shown."""
    section = TestSection()
    state = after(section, day)
    wrong = section.after(state, Event("values", filled(state, **{state.columns[0]: "O.4"})), day)
    shown = section.after(wrong, Event("cable", "C2"), day)
    assert "the tests have something to put right" in section.blocks_saving(shown)[0]
    assert section.blocks_saving(section.take_out(shown, "test C1 loss test")) == ()
    assert section.blocks_saving(section.after(wrong, Event("values", filled(state)), day)) == ()


def test_wavelengths_typed_stay_when_others_save(day: Day) -> None:
    """A cable's usual ones are proposed when it is chosen, and not again over what was typed."""
    section = TestSection()
    state = section.after(after(section, day), Event("windows", "1625"), day)
    assert section.follow(state, day).columns == ("loss_1625", "verdict")


def test_a_figure_taken_away_again_is_no_row(day: Day) -> None:
    """The only one cleared, nothing stands of it any more."""
    section = TestSection()
    blank = after(section, day)
    state = section.after(blank, Event("values", filled(blank, **{blank.columns[0]: "0.4"})), day)
    assert len(section.standing(state).put["tests"]) == 1
    cleared = section.after(state, Event("values", blank.values), day)
    assert section.standing(cleared).put["tests"] == [] and section.blocks_saving(cleared) == ()


# --- the tray ------------------------------------------------------------------------------------------------------
def ticked(state: Any, *cells: dict[str, Any]) -> list[dict[str, Any]]:
    """The grid with some cells of its first rows filled in."""
    return [{**row, **(cells[n] if n < len(cells) else {})} for n, row in enumerate(state.values)]


def test_joints_stand_as_they_are_ticked(day: Day) -> None:
    """A tick is a splice at once; another tray or day makes other rows; who looks at another cable leaves them alone."""
    section = TraySection()
    state = after(section, day)
    assert (state.enclosure, state.cable, state.to, state.tray) == ("J1", "C1", "C2", "1") and len(state.values) == 12
    state = section.after(state, Event("values", ticked(state, {"made": True, "loss_db": "0,05"})), day)
    stands = section.standing(state)
    assert stands.source == "tray J1 C1 B C2 0" and stands.title == "J1, C1: 1 splice to C2"
    (row,) = stands.put["splices"]
    assert (row["a_core"], row["b_core"], row["tray"], row["slot"], row["loss_db"]) == (1, 1, "1", "1", "0.05")
    other = section.after(state, Event("tray", "2"), day)
    assert section.standing(other).put["splices"][0]["tray"] == "2"
    day.on = "2026-11-21"
    assert section.standing(section.head_changed(state, day)).put["splices"][0]["made_on"] == "2026-11-21"
    looked = section.after(state, Event("enclosure", "P2"), day)
    assert section.standing(looked) is section.standing(state) and section.begun(looked)


def test_each_choice_decides_what_the_next_may_be(day: Day) -> None:
    """In a panel cores go to its ports by pigtails; back in the joint closure the ticks are there again."""
    section = TraySection()
    state = after(section, day)
    state = section.after(state, Event("values", ticked(state, {"made": True})), day)
    panel = section.after(section.after(state, Event("method", "mechanical"), day), Event("enclosure", "P1"), day)
    assert (panel.cable, panel.to, panel.method) == ("C1", "ports", "spliced pigtail")
    assert [v["to"] for v in panel.values[:2]] == ["1 A", "1 B"]
    back = section.after(panel, Event("enclosure", "J1"), day)
    assert back.values == state.values and back.method == "fusion"
    assert section.follow(panel, day).enclosure == "P1"


def test_what_others_join_meanwhile_is_seen_and_what_is_typed_stays(reg: fibrebook.Register, day: Day) -> None:
    """A core that was joined elsewhere is locked; ticks of the others make the rows that can still be made."""
    section = TraySection()
    state = after(section, day)
    state = section.after(state, Event("values", ticked(state, {"made": True}, {"made": True})), day)
    with reg.edit("EF", "spliced core 1") as edit:
        splice = {"a_cable": "C1", "a_core": 1, "b_cable": "C2", "b_core": 1}
        edit.put("splices", {"site": "Mill", "enclosure": "J1", "tray": "1", "slot": "1", **splice})
    now = section.follow(state, day)
    assert now.ready == 11 and now.shown == list(range(1, 12)) and now.values[1]["made"] is True
    assert [(r["a_core"], r["slot"]) for r in section.standing(now).put["splices"]] == [(2, "2")]


def test_a_joint_that_cannot_be_blocks_the_save_whichever_cable_is_shown(day: Day) -> None:
    """A core given twice is told by its core; put right, nothing is in the way."""
    section = TraySection()
    state = after(section, day)
    both = ({"made": True, "to": "3"}, {"made": True, "to": "3"})
    wrong = section.after(state, Event("values", ticked(state, *both)), day)
    assert wrong.faults[0][:2] == (1, "to") and len(section.standing(wrong).put["splices"]) == 1
    looked = section.after(wrong, Event("enclosure", "P2"), day)
    (words,) = section.blocks_saving(looked)
    assert words.startswith("the tray has something to put right: core 2: core 3 is given to core 1 already")
    assert section.blocks_saving(section.after(wrong, Event("values", ticked(state)), day)) == ()


def test_a_tray_goes_into_a_draft_and_back(day: Day) -> None:
    """What is chosen and typed; a choice that is not there any more gives way, and what is none is refused."""
    section = TraySection()
    state = section.after(after(section, day), Event("enclosure", "P2"), day)
    state = section.after(state, Event("values", ticked(state, {"made": True, "to": "5 A"})), day)
    kept = json.loads(json.dumps(section.to_json(state)))
    again = section.follow(section.from_json(kept), day)
    assert again.values == state.values and section.standing(again) == section.standing(state)
    gone = section.follow(section.from_json({"chosen": kept["chosen"] | {"enclosure": "P9", "cable": "C9"}}), day)
    assert (gone.enclosure, gone.cable, gone.method) == ("J1", "C1", "fusion")
    for spoilt in ({"chosen": {"tube": "1"}}, {"chosen": {"order": "none"}}, {"typed": {"x": {"1": {"made": 7}}}}):
        with pytest.raises((TypeError, ValueError, LookupError, AttributeError)):
            section.from_json(spoilt)


def test_rows_that_follow_the_register_are_the_visit_s_at_once(reg: fibrebook.Register) -> None:
    """What a section makes of its ticks after somebody else saved takes the place of what stood."""
    screen = record_visit(reg)
    screen.site.value, screen.by.value = "Mill", "CD"
    grid = next(p for p in screen.sections if p.name == "tray").section.grid
    grid.typed(grid.subject, 1, [("core 1", "made", True), ("core 2", "made", True)])
    assert [p.title for p in screen.day.parts.values()] == ["J1, C1: 2 splices to C2"]
    with reg.edit("EF", "spliced core 1") as edit:
        splice = {"a_cable": "C1", "a_core": 1, "b_cable": "C2", "b_core": 1}
        edit.put("splices", {"site": "Mill", "enclosure": "J1", "tray": "1", "slot": "1", **splice})
    screen.watch.refresh()
    assert [p.title for p in screen.day.parts.values()] == ["J1, C1: 1 splice to C2"]


def test_joints_taken_out_of_a_visit_stay_out(reg: fibrebook.Register) -> None:
    """Their ticks go with them, also when another cable is shown; those of other trays stay."""
    screen = record_visit(reg)
    screen.site.value, screen.by.value = "Mill", "CD"
    part = next(p for p in screen.sections if p.name == "tray")
    grid = part.section.grid
    grid.typed(grid.subject, 1, [("core 1", "made", True)])
    part.section.controls["enclosure"].value = "P2"
    grid.typed(grid.subject, 2, [("core 1", "made", True)])
    assert [p.title for p in screen.day.parts.values()] == ["J1, C1: 1 splice to C2", "P2, C2: 1 pigtail"]
    screen._take_out("tray P2 C2 B ports 0")
    assert list(screen.day.parts) == ["tray J1 C1 B C2 0"] and not any(v["made"] for v in grid.values)
    screen._take_out("tray J1 C1 B C2 0")
    part.section.controls["enclosure"].value = "J1"
    assert screen.day.parts == {} and not any(v["made"] for v in grid.values) and not part.begun()
