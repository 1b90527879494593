"""The plugin door: what a plugin adds is there, what is not asked for is not, and a faulty plugin is named."""

from __future__ import annotations

import ast
import inspect
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

import fibrebook
from fibrebook import plugins
from fibrebook.analyses.advice.declared import OUR_CHECKS
from fibrebook.analyses.door import OUR_ANALYSES
from fibrebook.cli import OURS, cli, main
from fibrebook.errors import PluginError
from fibrebook.plugins import Command, Page, PrintedSheet, SpokenName, hookimpl, hooks
from fibrebook.screens.front_door.door import OUR_SCREENS
from fibrebook.sheets.door import OUR_SHEETS

HERE = Path(__file__).parent
HOOKS = [name for name, found in vars(hooks).items() if getattr(found, "fibrebook_spec", None) is not None]

ASK = """
import json, tempfile, fibrebook
from fibrebook.plugins import gathered_analyses, installed, manager
from fibrebook.reference.colours import codes, order
from fibrebook.light.catalogue import attenuation_db_per_km
reg = fibrebook.create(tempfile.mkdtemp() + "/register")
with reg.edit(by="RK", why="a cable") as edit:
    edit.put("sites", [{"site": "S1"}])
    edit.put("cables", [{"site": "S1", "cable": "C1", "core_count": 4, "colour_code": "Example works",
                         "fibre_class": "Example fibre", "length_m": 500}])
analyses = {k: a.function for k, a in gathered_analyses().items()}
print(json.dumps({
    "names": [name for name, _ in installed()],
    "colours": reg.table("cores")["core_colour"].fillna("").tolist(),
    "code": "Example works" in codes(),
    "attenuation": float(attenuation_db_per_km("Example fibre", 1310)),
    "layouts": [p.name for found in manager().hook.layout_files() for p in found],
    "advice": fibrebook.advice(reg)["check"].tolist(),
    "metres": analyses["metres_by_class"](reg).to_dict("records") if "metres_by_class" in analyses else None,
}))
"""


def ask(wanted: str | None) -> dict[str, object]:
    """Run the questions in a process of their own, with FIBREBOOK_PLUGINS as given."""
    env = {k: v for k, v in os.environ.items() if k != "FIBREBOOK_PLUGINS"}
    if wanted is not None:
        env["FIBREBOOK_PLUGINS"] = wanted
    done = subprocess.run([sys.executable, "-c", ASK], env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_an_installed_plugin_adds_one_of_each() -> None:
    """The example package, installed beside fibrebook, adds a colour code, a value, a layout, a check, an analysis."""
    told = ask("example")
    assert "example" in told["names"]
    assert told["code"]
    assert told["colours"] == ["white", "blue", "red", "black"]
    assert told["attenuation"] == pytest.approx(0.36)
    assert "example_cable_list.toml" in told["layouts"]
    assert "no contact" in told["advice"]
    assert told["metres"] == [{"fibre_class": "Example fibre", "length_m": 500.0}]


def test_a_plugins_analysis_and_layout_are_at_hand_on_the_command_line(tmp_path: Path) -> None:
    """`fibrebook ask` runs a plugin's analysis, and `bring-in --layout` takes a plugin's layout by its name."""
    env = {**os.environ, "FIBREBOOK_PLUGINS": "example"}
    (tmp_path / "list.csv").write_text("Where,Cable,Cores\nBarn,C1,12\nBarn,C2,4\n", encoding="utf-8")

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        asked = [sys.executable, "-m", "fibrebook", *words]
        return subprocess.run(asked, env=env, cwd=tmp_path, capture_output=True, text=True, check=False)

    assert run("new", "register").returncode == 0
    brought = run("bring-in", "list.csv", "--by", "RK", "--why", "the list", "--layout", "example_cable_list")
    assert brought.returncode == 0, brought.stderr
    told = run("ask", "metres_by_class", "--json")
    assert told.returncode == 0, told.stderr
    assert json.loads(told.stdout) == []  # no cable has a fibre class yet
    assert "metres_by_class" in run("ask").stdout.splitlines()
    assert run("ask", "metres_by_clas").returncode == 1
    assert run("ask", "metres_by_class", "--site", "Barn").returncode == 2
    rows = json.loads(run("ask", "spare", "--site", "Barn", "--json").stdout)
    assert [(r["site"], r["total"]) for r in rows] == [("Barn", 16)]


def test_installed_plugins_are_found_without_being_named() -> None:
    """Where FIBREBOOK_PLUGINS is not set, every installed plugin is loaded."""
    assert "example" in ask(None)["names"]


def test_a_plugin_not_asked_for_adds_nothing() -> None:
    """An empty FIBREBOOK_PLUGINS loads none: the code is not known and nothing else is added."""
    told = ask("")
    assert "example" not in told["names"]
    assert not told["code"]
    assert told["metres"] is None
    assert "no contact" not in told["advice"]
    assert told["attenuation"] != told["attenuation"]  # NaN


def test_our_own_parts_come_in_by_the_same_door() -> None:
    """Built-in reference files, checks and analyses are plugins registered first."""
    names = [name for name, _ in plugins.installed()]
    assert [n for n in names if n in plugins.BUILT_IN] == list(plugins.BUILT_IN)
    assert any(p.name == "colour_codes.csv" for files in plugins.manager().hook.reference_files() for p in files)


@pytest.fixture
def installed_as(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., None]]:
    """Give a function that makes some objects, or what raises, the plugins that are installed."""

    def install(**found: Any) -> None:
        class Entry:
            def __init__(self, name: str) -> None:
                self.name, self.value = name, f"{name}_plugin:thing"

            def load(self) -> object:
                if isinstance(found[self.name], Exception):
                    raise found[self.name]
                return found[self.name]

        monkeypatch.delenv("FIBREBOOK_PLUGINS", raising=False)
        monkeypatch.setattr("importlib.metadata.entry_points", lambda group: [Entry(n) for n in found])
        plugins.manager.cache_clear()

    yield install
    plugins.manager.cache_clear()


class Misspelt:
    """A plugin with a hook that there is not."""

    @plugins.hookimpl
    def advise_checks(self) -> list[object]:
        """Give nothing."""
        return []


UNWELL = {
    "misspelt": (Misspelt(), r"'misspelt'.*advise_checks"),
    "broken": (ImportError("no module named broken_plugin"), r"'broken': \(broken_plugin:thing\) could not be loaded"),
}


@pytest.mark.parametrize("name", UNWELL)
def test_a_plugin_that_is_not_well_is_left_out_and_nothing_is_saved(
    name: str, installed_as: Callable[..., None], tmp_path: Path
) -> None:
    """A misspelt hook or a module that breaks: everything reads, the plugin is named, a save is refused until it is mended."""
    thing, words = UNWELL[name]
    installed_as()
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit(by="RK", why="a site") as edit:
        edit.put("sites", [{"site": "S1"}])
    installed_as(**{name: thing})
    assert reg.table("sites")["site"].tolist() == ["S1"]
    assert fibrebook.advice(reg).query("check == 'plugin'")["record"].tolist() == [name]
    assert re.search(words + ".*FIBREBOOK_PLUGINS.*Nothing can be saved meanwhile", plugins.in_words())
    assert name not in dict(plugins.installed())
    with pytest.raises(PluginError, match=words), reg.edit(by="RK", why="another") as edit:
        edit.put("sites", [{"site": "S2"}])
    with pytest.raises(PluginError, match=words):
        reg.undo(1, by="RK", why="again")
    installed_as()
    assert plugins.in_words() == ""
    with reg.edit(by="RK", why="another") as edit:
        edit.put("sites", [{"site": "S2"}])
    assert reg.sites() == ["S1", "S2"]


def test_a_plugins_command_is_typed_like_ours(tmp_path: Path) -> None:
    """It is listed after ours, explains itself, answers in text and JSON; where it breaks that is told in words."""
    env = {**os.environ, "FIBREBOOK_PLUGINS": "example"}
    where = str(tmp_path / "register")

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        asked = [sys.executable, "-m", "fibrebook", *words]
        return subprocess.run(asked, env=env, capture_output=True, text=True, check=False)

    assert run("new", where).returncode == 0
    assert "List the ducts that are sealed." in run("--help").stdout
    assert "sealed at both ends" in run("sealed-ducts", "--help").stdout
    assert run("-r", where, "sealed-ducts").stdout == "none is sealed\n"
    assert json.loads(run("-r", where, "sealed-ducts", "--json").stdout) == []
    env["FIBREBOOK_PLUGINS"] = ""
    assert run("sealed-ducts").returncode == 2


@pytest.mark.parametrize("what", ["no_module:command", "fibrebook.errors:FibrebookError", lambda: 1 / 0])
def test_a_plugins_command_that_breaks_is_told_in_words(
    what: Any, installed_as: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    """It is listed with the rest; what is wrong with it is said when it is run, without a traceback."""
    run = click.command("bad")(what) if callable(what) else what
    give = staticmethod(plugins.hookimpl(lambda: [Command("bad", run, "Do harm."), Command("spare", run), "text"]))
    give.__func__.__name__ = "commands"
    installed_as(firm=type("Firm", (), {"commands": give})())
    for words, code in ((["--help"], 0), (["bad"], 1)):
        with pytest.raises(SystemExit) as ended:
            main(words)
        assert ended.value.code == code
    told = capsys.readouterr()
    assert "Do harm." in told.out and "the command 'bad'" in told.err and "Traceback" not in told.err
    assert "'spare', which is there already" in plugins.in_words() or "'text'" in plugins.in_words()


@pytest.mark.parametrize("name", OURS)
def test_our_own_commands_are_declared_with_a_line_of_help(name: str) -> None:
    """Each names code that is a command of that name, and says in one sentence what it does."""
    assert OURS[name].function.name == name
    assert OURS[name].help.endswith(".")


@pytest.mark.parametrize("declared", [*OUR_ANALYSES, *OUR_CHECKS], ids=lambda d: d.name)
def test_our_own_checks_and_analyses_are_declared_and_tested(declared: Any) -> None:
    """Each names code that is there, says in a sentence what it is for, and some test asks for what it gives.

    What a check gives are the short names of advice; those of hard rules are asked for where the rules are tested.
    """
    assert callable(declared.function) and declared.help.endswith(".")
    gives = {declared.name} if declared in OUR_ANALYSES else short_names(declared.function)
    tests = [p.read_text(encoding="utf-8") for p in HERE.rglob("*.py") if p.name != "test_hooks.py"]
    assert gives and [g for g in gives if not any(f'"{g}"' in t or f"'{g}'" in t or f".{g}(" in t for t in tests)] == []


@pytest.mark.parametrize("page", OUR_SCREENS, ids=lambda p: p.name)
def test_our_own_screens_are_declared(page: Any) -> None:
    """Each names code that is there, has a title, and says in a sentence what it is for; a test opens each of them."""
    assert callable(page.function) and page.help.endswith(".") and page.title and page.words


@pytest.mark.parametrize("sheet", OUR_SHEETS, ids=lambda s: s.name)
def test_our_own_sheets_are_declared(sheet: Any) -> None:
    """Each names code that is there and says in a sentence what it tells."""
    assert callable(sheet.function) and sheet.help.endswith(".")


def test_a_plugins_sheet_is_written_like_ours(installed_as: Callable[..., None], tmp_path: Path) -> None:
    """By its name; one that breaks, or gives no text, is named, and nothing is written."""
    import fibrebook_example

    installed_as(example=fibrebook_example)
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit(by="RK", why="a duct") as edit:
        edit.put("sites", [{"site": "S1"}])
        edit.put("locations", [{"site": "S1", "location": "hall"}])
        edit.put("ducts", [{"site": "S1", "duct": "D1", "a_location": "hall"}])
    run = lambda *words: CliRunner().invoke(cli, ["-r", str(reg.where), "sheet", *words])  # noqa: E731
    assert {"site-page", "next-visit", "duct-card"} <= set(
        run("--json").output.replace('"', " ").replace(",", " ").split()
    )
    done = run("duct-card", "S1", str(tmp_path / "card.html"))
    assert done.exit_code == 0 and "D1" in (tmp_path / "card.html").read_text(encoding="utf-8")
    assert run("next-visit", "S1", str(tmp_path / "next.html")).exit_code == 0
    assert "there is no sheet" in str(run("card", "S1", "x").exception)
    assert run("duct-card").exit_code == 2
    for wrong, why in ((lambda reg, site: 7, "no text"), (lambda reg, site: 1 / 0, "ZeroDivisionError")):
        broken = type(
            "Broken", (), {"sheets": staticmethod(hookimpl(lambda w=wrong: [PrintedSheet("odd", w, "Odd.")]))}
        )
        installed_as(broken=broken)
        done = run("odd", "S1", str(tmp_path / "odd.html"))
        assert why in str(done.exception) and not (tmp_path / "odd.html").exists()


def test_a_plugins_screen_stands_behind_the_front_page(installed_as: Callable[..., None], tmp_path: Path) -> None:
    """The example's is listed after ours, found by its words, opened by its address with a site, and follows the register."""
    import fibrebook_example

    from fibrebook.screens.front_door.addresses import Address

    installed_as(example=fibrebook_example)
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit(by="RK", why="a duct") as edit:
        edit.put("sites", [{"site": "S1"}])
        edit.put("locations", [{"site": "S1", "location": "hall"}])
        edit.put("ducts", [{"site": "S1", "duct": "D1", "a_location": "hall"}])
    home = fibrebook.home(reg)
    assert home._links.value.index("History") < home._links.value.index("Ducts")
    home.go(Address("ducts", "S1"))
    assert home.said == "" and home.bar.shown == "/ducts/S1"
    screen = home.built["ducts"]
    assert "1 ducts" in str(screen.body[0].children[0].value)
    with reg.edit(by="RK", why="another") as edit:
        edit.put("ducts", [{"site": "S1", "duct": "D2", "a_location": "hall"}])
    screen.watch.refresh()
    assert "2 ducts" in str(screen.body[0].children[0].value)
    home.find.query = "conduit"
    home._search()
    assert [i["label"] for g in home.find.found for i in g["items"]] == ["Ducts"]


@pytest.mark.parametrize("what", ["no_module:Screen", lambda reg: 1 / 0, lambda reg: "text"])
def test_a_plugins_screen_that_breaks_is_told_on_the_front_page(
    what: Any, installed_as: Callable[..., None], tmp_path: Path
) -> None:
    """The front page says which screen broke, and goes on."""
    from fibrebook.screens.front_door.addresses import Address

    give = staticmethod(plugins.hookimpl(lambda: [Page("bad", what, "Does harm.", "Bad"), "text"]))
    give.__func__.__name__ = "screens"
    installed_as(firm=type("Firm", (), {"screens": give})())
    home = fibrebook.home(fibrebook.create(tmp_path / "register"))
    home.go(Address("bad"))
    assert "the screen 'bad'" in home.said
    home.go(Address("history"))
    assert home.said == "" and "history" in home.built
    assert "'text'" in plugins.in_words()


def short_names(check: Callable[..., Any]) -> set[str]:
    """The names of advice in a check's code: the texts given to `advise` or `Advice`, in it or in what loops over them."""
    tree = ast.parse(inspect.getsource(inspect.getmodule(check)))  # type: ignore[arg-type]
    functions = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    own = [c for c in ast.walk(functions[check.__name__]) if isinstance(c, ast.Call)]
    helpers = {getattr(c.func, "id", "") for c in own} & functions.keys()
    inner = [c for h in helpers for c in ast.walk(functions[h]) if isinstance(c, ast.Call)]
    found = set()
    for call in own + inner:
        name = getattr(call.func, "attr", getattr(call.func, "id", ""))
        place = {"advise": 0, "Advice": 1}.get(name)
        given = call.args[place] if place is not None and len(call.args) > place else None
        found |= {given.value} if isinstance(given, ast.Constant) and isinstance(given.value, str) else set()
    loops = [n for h in helpers for n in ast.walk(functions[h]) if isinstance(n, ast.For)]
    looped = {
        c.value for n in loops for c in ast.walk(n.iter) if isinstance(c, ast.Constant) and isinstance(c.value, str)
    }
    return found or looped


def test_every_screen_says_what_is_not_well(installed_as: Callable[..., None], tmp_path: Path) -> None:
    """A screen made meanwhile, and one that was there before, name the plugin and say that nothing can be saved."""
    from fibrebook.screens.frame.screen import Screen

    installed_as()
    reg = fibrebook.create(tmp_path / "register")
    before = Screen(reg, "Before")
    assert before._trouble.value == ""
    installed_as(broken=UNWELL["broken"][0])
    list(fibrebook.records.KINDS)
    before.guard(lambda: None)
    for screen in (before, Screen(reg, "After")):
        assert "&#x27;broken&#x27;" in screen._trouble.value and "Nothing can be saved" in screen._trouble.value
        assert screen._trouble.layout.display is None


def test_the_command_line_says_what_is_not_well(
    installed_as: Callable[..., None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """After any command that met it the plugin is named on stderr; `plugins` lists it and asks for attention."""
    installed_as(broken=UNWELL["broken"][0])
    fibrebook.create(tmp_path / "register")
    with pytest.raises(SystemExit) as ended:
        main(["-r", str(tmp_path / "register"), "advice", "--json"])
    told = capsys.readouterr()
    assert ended.value.code == 0 and "'broken'" in told.err
    assert [a["record"] for a in json.loads(told.out)] == ["broken"]
    with pytest.raises(SystemExit) as ended:
        main(["plugins", "--json"])
    listed = {p["name"]: p["not_well"] for p in json.loads(capsys.readouterr().out)}
    assert ended.value.code == 3
    assert "could not be loaded" in listed["broken"][0] and not any(listed[n] for n in plugins.BUILT_IN)


@pytest.mark.parametrize("hook", HOOKS)
def test_every_hook_is_documented_and_shown_by_the_example(hook: str) -> None:
    """Each hook stands in DEVELOPERS.md and is implemented by the example package."""
    assert f"`{hook}`" in (HERE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    example = (HERE / "plugin_example" / "fibrebook_example" / "__init__.py").read_text(encoding="utf-8")
    assert re.search(rf"@hookimpl\ndef {hook}\(", example)


def test_there_are_hooks_to_document() -> None:
    """The list of hooks that the test above walks is not empty."""
    assert {"reference_files", "layout_files", "advice_checks", "analyses", "record_kinds"} <= set(HOOKS)


# --- what people call records -----------------------------------------------------------------------------------------
CALLED = """
import json, tempfile, fibrebook, fibrebook.snapshot.snapshot
reg = fibrebook.create(tempfile.mkdtemp() + "/register")
with reg.edit(by="RK", why="a cable") as edit:
    edit.put("sites", [{"site": "S1"}])
    edit.put("cables", [{"site": "S1", "cable": c, "core_count": 4, "drum": d} for c, d in (("C1", "T7"), ("C2", "T8"))])
reg = fibrebook.open(reg.where)
seen = fibrebook.snapshot.snapshot.PlantSnapshot.of(reg, "S1")
print(json.dumps([fibrebook.find(reg, "drum t7")["label"].tolist(), seen.names.one("S1", "drum T8", ("cable",)).key,
                  [list(s) for s in fibrebook.which(reg, "S1", "C1 blue 1")["start"]]]))
"""


def test_the_examples_way_of_calling_cables_is_read(tmp_path: Path) -> None:
    """With the example package installed, `find` and whoever asks for one thing read a cable by its drum."""
    env = {**os.environ, "FIBREBOOK_PLUGINS": "example"}
    done = subprocess.run([sys.executable, "-c", CALLED], env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == [["C1"], ["C2"], [["core", "C1", "1"]]]


WAYS: dict[str, tuple[Any, str]] = {
    "no declaration": ("cables", "no SpokenName"),
    "no function": (SpokenName("cables", 5), "must be a function"),
    "of what cannot be found": (SpokenName("choices", lambda seen: None), "none of cables"),
    "breaks when it is made": (SpokenName("cables", lambda seen: 1 / 0), "broke: ZeroDivisionError"),
    "breaks when it is asked": (SpokenName("cables", lambda seen: lambda words: 1 / 0), "broke: ZeroDivisionError"),
    "gives no pair": (SpokenName("cables", lambda seen: lambda words: ["C1"]), "broke: ValueError"),
}  # fmt: skip


@pytest.mark.parametrize("name", WAYS)
def test_a_faulty_way_of_calling_is_left_out_and_named(
    name: str, installed_as: Callable[..., None], tmp_path: Path
) -> None:
    """Ours and those of other plugins are read all the same; the faulty one is named; saves go on."""
    given, told = WAYS[name]
    give = staticmethod(plugins.hookimpl(lambda: [given]))
    give.__func__.__name__ = "spoken_names"
    installed_as(firm=type("Firm", (), {"spoken_names": give})())
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit(by="RK", why="a cable") as edit:
        edit.put("sites", [{"site": "S1"}])
        edit.put("cables", [{"site": "S1", "cable": "C1", "core_count": 12}])
    assert fibrebook.find(reg, "orange 2")["label"].tolist() == ["C1/2"]
    assert [list(s) for s in fibrebook.which(reg, "S1", "orange 2")["start"]] == [["core", "C1", "2"]]
    assert "'firm'" in plugins.in_words() and told in plugins.in_words()
    assert "Nothing can be saved" not in plugins.in_words()
