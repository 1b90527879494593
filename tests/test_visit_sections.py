"""Sections of *Record a visit* from plugins: shown after ours, kept and saved with them; what breaks is named and left out."""

from __future__ import annotations

import contextlib
import importlib.util
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import ipywidgets as w
import pytest

import fibrebook
from fibrebook import plugins
from fibrebook.errors import InputError, PluginError
from fibrebook.plugin_check.steps import try_plugin
from fibrebook.plugin_check.visit_sections import VisitOnTrial
from fibrebook.plugins import VisitSection
from fibrebook.screens import record_visit
from fibrebook.screens.frame import drafts
from fibrebook.screens.frame.section import Event, Made, Section, Shown, Standing
from fibrebook.screens.recording.door import OUR_SECTIONS
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.recording.which_sections import Contained

_spec = importlib.util.spec_from_file_location("work", Path(__file__).parent / "browser" / "work.py")
assert _spec and _spec.loader
work = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(work)
OURS = ["Cables and enclosures", "Tray", "Panel and cords", "Equipment", "Tests", "Snags", "Photos"]


@dataclass(frozen=True)
class Typed:
    """One word."""

    word: str = ""


class Mud(Section[Typed, Day]):
    """A snag of one word, as a plugin's section would make it."""

    title, name = "Mud", "mud"

    def begin(self) -> Typed:
        """Nothing."""
        return Typed()

    def after(self, state: Typed, event: Event, seen: Day) -> Typed:
        """The word."""
        return replace(state, word=event.value)

    def made(self, state: Typed, seen: Day, of: str = "") -> Made[Typed]:
        """A snag."""
        if not state.word:
            raise InputError("no word is typed")
        put = {"snags": [{"site": seen.site, "snag": "M1", "what": state.word}]}
        return Made(Typed(), "mud is in the visit", "mud", "mud", put)

    def begun(self, state: Typed) -> bool:
        """Whether there is a word."""
        return bool(state.word)

    def to_json(self, state: Typed) -> dict[str, Any]:
        """The word."""
        return {"word": state.word}

    def from_json(self, kept: Any) -> Typed:
        """The word."""
        return Typed(kept["word"])

    def build(self, page: Any) -> list[w.Widget]:
        """A box."""
        self.word = w.Text()
        page.watch(self.word, "word")
        return [self.word]

    def show(self, state: Typed, seen: Day) -> None:
        """The word."""
        self.word.value = state.word


@pytest.fixture
def firm(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., None]]:
    """Give a function that makes a plugin of some sections the one that is installed, as "firm"."""

    def install(*given: Any) -> None:
        give = plugins.hookimpl(lambda: given)
        give.__name__ = "sections"
        parts = {"sections": staticmethod(give)}
        entry = type("Entry", (), {"name": "firm", "value": "firm", "load": lambda self: type("Firm", (), parts)()})
        monkeypatch.delenv("FIBREBOOK_PLUGINS", raising=False)
        monkeypatch.setattr("importlib.metadata.entry_points", lambda group: [entry()])
        plugins.manager.cache_clear()

    yield install
    plugins.manager.cache_clear()


@pytest.fixture
def reg(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> fibrebook.Register:
    """The small register of one mill."""
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "drafts"))
    return work.make_small(tmp_path / "register")


def at_the_mill(reg: fibrebook.Register) -> Any:
    """The screen at the mill."""
    screen = record_visit(reg)
    screen.site.value, screen.by.value = "Mill", "CD"
    return screen


@pytest.mark.parametrize("declared", OUR_SECTIONS, ids=lambda d: d.name)
def test_our_own_sections_are_declared(declared: VisitSection) -> None:
    """Each names code that is there, says in a sentence what is recorded there, and is called as it is declared."""
    assert callable(declared.function) and declared.help.endswith(".")
    made = declared.function()
    assert made is None or made.name == declared.name


def test_a_plugin_s_section_is_shown_after_ours_kept_and_saved(firm: Any, reg: fibrebook.Register) -> None:
    """What is typed goes into the draft and back, what is added is saved with everything else, a fault is in words."""
    firm(VisitSection("mud", Mud, "Where mud is."))
    screen = at_the_mill(reg)
    assert screen.steps.titles == [*OURS, "Mud"] and plugins.in_words() == ""
    part = screen.sections[-1]
    part.add()
    assert "no word is typed" in screen.said
    part.section.inner.word.value = "deep"
    screen.keep_draft.now()
    path, kept = next(iter(drafts.kept(reg.id, "record-visit")))
    screen.draft.let_go()
    again = record_visit(reg)
    again.resume(path, kept)
    part = again.sections[-1]
    assert part.section.inner.word.value == "deep"
    part.add()
    assert again.said == "mud is in the visit" and again.day.rows()["snags"][0]["what"] == "deep"
    again.save()
    assert "M1" in reg.table("snags", "Mill")["snag"].tolist()


class NoTitle(Mud):
    """A section without a title."""

    title = " "


class CalledOtherwise(Mud):
    """A section that is not called as it is declared."""

    name = "sand"


class Twice(Mud):
    """A section that takes the title of one of ours."""

    title = "Tray"


class NoWidgets(Mud):
    """A section that breaks when its widgets are made."""

    def build(self, page: Any) -> list[w.Widget]:
        """Break."""
        raise RuntimeError("half way")


@pytest.mark.parametrize(("run", "words"), [
    ("no_module:Mud", "no_module"), (lambda: "text", "no Section"), (NoTitle, "no title"),
    (CalledOtherwise, "'sand'"), (Twice, "'Tray' already"), (NoWidgets, "half way"),
])  # fmt: skip
def test_a_section_that_cannot_be_made_is_named_and_left_out(
    run: Any, words: str, firm: Any, reg: fibrebook.Register
) -> None:
    """The others are shown and saved; the screen says what is missing. What makes none on purpose is no fault."""
    firm(VisitSection("mud", run), "text", VisitSection("none", lambda: None))
    screen = at_the_mill(reg)
    assert screen.steps.titles == OURS
    assert "plugin 'firm': the section 'mud' broke" in screen._trouble.value.replace("&#x27;", "'")
    assert words in plugins.in_words() and "'text'" in plugins.in_words() and "'none'" not in plugins.in_words()
    screen.sections[-2].add("New snag")
    assert "snag S2 is in the visit" in screen.said


def test_check_plugin_finds_a_section_that_cannot_be_made(firm: Any) -> None:
    """Its step does not hold, and says why."""
    firm(VisitSection("mud", NoWidgets))
    step = next(s for s in try_plugin("firm") if s.name == "sections of a visit")
    assert not step.held and "half way" in step.found


def broken(*given: Any) -> Any:
    """Break."""
    raise RuntimeError("half way")


BREAKS = {
    "after": broken,
    "follow": broken,
    "made": broken,
    "made: no rows": lambda self, state, seen, of="": Made(state, "", "m", "m", {"snags": [{"snag": "M1"}]}),
    "made: no kind": lambda self, state, seen, of="": Made(state, "", "m", "m", {"mud": [{}]}),
    "made: no Made": lambda self, state, seen, of="": "text",
    "standing": broken,
    "standing: no rows": lambda self, state: Standing("m", "m", {"snags": ["mud"]}) if state.word else None,
    "standing: no Standing": lambda self, state: {"snags": []},
    "head_changed": broken,
    "blocks_saving": broken,
    "begun": broken,
    "take_out": broken,
    "forget": broken,
    "to_json": broken,
    "to_json: none": lambda self, state: {"word": object()},
    "show": broken,
}  # fmt: skip


@pytest.fixture
def visit(reg: fibrebook.Register) -> Iterator[VisitOnTrial]:
    """A visit at the mill without a screen, and nothing noted of plugins."""
    plugins.manager.cache_clear()
    yield VisitOnTrial(Day(reg, "Mill", by="CD", on="2026-11-20"))
    plugins.manager.cache_clear()


@pytest.mark.parametrize("what", BREAKS)
def test_what_breaks_of_a_section_is_named_and_nothing_else_with_it(what: str, visit: VisitOnTrial) -> None:
    """Its state is as it was, no rows that are none are in the visit, and a draft can hold what it keeps."""
    member = what.partition(":")[0]
    broken = type("Broken", (Mud,), {member: BREAKS[what]})()
    part = Shown(Contained(broken, "firm"), visit, lambda: visit.day)
    part.refresh()
    part.tell(Event("word", "deep"))
    assert part.state.word == ("" if member == "after" else "deep")
    json.dumps(part.kept())
    part.begun()
    part.head_changed()
    part.take_out("another part")
    refused = {"after": InputError, "made": PluginError}.get(member)
    with pytest.raises(refused) if refused else contextlib.nullcontext():
        part.add()
    assert ("mud" in visit.day.parts) is (member not in ("after", "made")) and "m" not in visit.day.parts
    part.forget()
    assert part.state == Typed("deep" if member == "made" else "")  # what was not added stays
    assert f"{member} of the section 'Mud' broke" in plugins.in_words()
    assert plugins.in_words().count("broke") == 1 and "Nothing can be saved" not in plugins.in_words()


def test_a_visit_goes_on_beside_a_section_that_breaks(firm: Any, reg: fibrebook.Register) -> None:
    """Ours is kept as a draft and saved, and the screen says what is not well."""
    harm = dict.fromkeys(
        ("after", "follow", "begun", "blocks_saving", "to_json", "head_changed", "forget", "show"), broken
    )
    firm(VisitSection("mud", type("Harm", (Mud,), harm)))
    screen = at_the_mill(reg)
    screen.sections[-1].section.inner.word.value = "deep"
    next(s for s in screen.sections if s.name == "snags").add("Settle a snag")
    screen.by.value = "EF"
    screen.keep_draft.now()
    screen.save()
    assert "saved as commit" in screen.said and reg.table("snags", "Mill")["done_by"].tolist() == ["EF"]
    assert "of the section" in screen._trouble.value and "Left out" in screen._trouble.value


@pytest.mark.parametrize(("member", "does", "words"), [
    ("begun", lambda self, state: True, "something was typed"),
    ("blocks_saving", lambda self, state: ("always",), "something was typed"),
    ("standing", lambda self, state: Standing("m", "m", {"snags": [{"site": "North yard", "snag": "M"}]}), "nothing was typed"),
    ("to_json", lambda self, state: {}, "'word'"),
])  # fmt: skip
def test_check_plugin_finds_a_section_that_does_not_keep_its_contract(
    member: str, does: Any, words: str, firm: Any
) -> None:
    """What says that something was typed at the beginning, makes rows of nothing, or cannot read its own draft."""
    firm(VisitSection("mud", type("Odd", (Mud,), {member: does})))
    step = next(s for s in try_plugin("firm") if s.name == "sections of a visit")
    assert not step.held and words in step.found


def test_check_plugin_passes_a_sound_section(firm: Any) -> None:
    """By its title."""
    firm(VisitSection("mud", Mud))
    step = next(s for s in try_plugin("firm") if s.name == "sections of a visit")
    assert step.held and step.found == "Mud"


def test_the_example_s_section_says_what_was_seen_of_a_duct(firm: Any, reg: fibrebook.Register) -> None:
    """Through its own state, without a widget: the row bears the day of the visit."""
    from fibrebook_example.section import DuctSection

    section = DuctSection()
    day = Day(reg, "Mill", by="CD", on="2026-11-20")
    state = section.after(section.begin(), Event("duct", "D1"), day)
    state = section.after(state, Event("closed", True), day)
    row = {"site": "Mill", "duct": "D1", "sealed": True, "seen_on": "2026-11-20"}
    assert section.made(state, day).put == {"ducts": [row]}
    assert section.from_json(json.loads(json.dumps(section.to_json(state)))) == state
