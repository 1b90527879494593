"""The plugin door: what a plugin adds is there, what is not asked for is not, and a faulty plugin is named."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pluggy
import pytest

from fibrebook import plugins
from fibrebook.errors import PluginError

HERE = Path(__file__).parent
HOOKS = [name for name in vars(plugins) if getattr(getattr(plugins, name), "fibrebook_spec", None) is not None]

ASK = """
import json, tempfile, fibrebook
from fibrebook.plugins import installed, manager
from fibrebook.reference.colours import codes, order
from fibrebook.light.catalogue import attenuation_db_per_km
reg = fibrebook.create(tempfile.mkdtemp() + "/register")
with reg.edit(by="RK", why="a cable") as edit:
    edit.put("sites", [{"site": "S1"}])
    edit.put("cables", [{"site": "S1", "cable": "C1", "core_count": 4, "colour_code": "Example works",
                         "fibre_class": "Example fibre", "length_m": 500}])
analyses = {k: f for found in manager().hook.analyses() for k, f in found.items()}
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


def test_a_misspelt_hook_is_an_error_that_names_the_plugin() -> None:
    """A hook that fibrebook does not have is refused, not passed over in silence."""

    class Misspelt:
        @plugins.hookimpl
        def advise_checks(self) -> list[object]:
            return []

    plugins.manager.cache_clear()
    manager = plugins.manager()
    manager.register(Misspelt(), name="misspelt")
    try:
        with pytest.raises(pluggy.PluginValidationError, match="advise_checks"):
            manager.check_pending()
    finally:
        plugins.manager.cache_clear()


def test_a_plugin_that_cannot_be_loaded_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """An entry point that breaks on loading gives one error with its name and what to do."""

    class Broken:
        name, value = "broken", "broken_plugin:thing"

        def load(self) -> object:
            raise ImportError("no module named broken_plugin")

    monkeypatch.delenv("FIBREBOOK_PLUGINS")
    monkeypatch.setattr("importlib.metadata.entry_points", lambda group: [Broken()])
    plugins.manager.cache_clear()
    try:
        with pytest.raises(PluginError, match=r"'broken' \(broken_plugin:thing\).*FIBREBOOK_PLUGINS"):
            plugins.manager()
    finally:
        plugins.manager.cache_clear()


@pytest.mark.parametrize("hook", HOOKS)
def test_every_hook_is_documented_and_shown_by_the_example(hook: str) -> None:
    """Each hook stands in DEVELOPERS.md and is implemented by the example package."""
    assert f"`{hook}`" in (HERE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    example = (HERE / "plugin_example" / "fibrebook_example" / "__init__.py").read_text(encoding="utf-8")
    assert re.search(rf"@hookimpl\ndef {hook}\(", example)


def test_there_are_hooks_to_document() -> None:
    """The list of hooks that the test above walks is not empty."""
    assert {"reference_files", "layout_files", "advice_checks", "analyses", "record_kinds"} <= set(HOOKS)
