"""Would the tests notice? The package is made slightly wrong, one place at a time, and tests must fail.

In the ordinary run half of the mistakes that once went unnoticed, or would hurt most, each with the test that is to catch it. In
the long run: places chosen by chance in the rooms that reckon, and all tests of such a room; survivors are named.
"""

from __future__ import annotations

import ast
import os
import random
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import fibrebook

PACKAGE = Path(fibrebook.__file__).parent
TESTS = Path(__file__).parent
SAMPLE = int(os.environ.get("FIBREBOOK_MUTANTS", "12"))  # mutants a room in the long run
SEED = int(os.environ.get("FIBREBOOK_MUTANTS_SEED", "1"))

# module, what stands there, what is put in its place, the tests that are to fail
MISTAKES = [
    ("analyses.advice.loose_ends", "timedelta(days=31)", "timedelta(days=61)", "test_at_the_boundary.py::temporary"),
    ("words.labels", "0{len(figure)}d}", "0{1}d}", "test_words.py::next_labels"),
    ("words.labels", "(1, 0, p.casefold())", "(1, 0, p)", "test_words.py::two_stands"),
    ("screens.widgets.table", "natural(plain_text(values[i]))", "plain_text(values[i])", "test_at_the_boundary.py::sorts"),
    ("drawings.panel", 'bool(row["cord"])', "False", "test_at_the_boundary.py::drawn"),
    ("plant.solve", "np.minimum(ends[0::2], ends[1::2])", "ends[0::2]", "test_plant_cases.py"),
    ("light.formulas", "length / 1000.0 * attenuation + extra", "length / 1000.0 * attenuation - extra",
     "test_light_formulas.py::total_channel"),
    ("register.row_files.merge", "keep_theirs = rows.at(THEIRS)", "keep_theirs = rows.at(BASE)", "test_merge.py::what_the_rules_say"),
]  # fmt: skip


def module_path(name: str) -> Path:
    """Return the file of a module of the package."""
    return PACKAGE / (name.replace(".", "/") + ".py")


def _selected(tests: list[str]) -> list[str]:
    """Return pytest's words for "file.py" and "file.py::part of a test's name"."""
    files = [str(TESTS / t.partition("::")[0]) for t in tests]
    parts = [t.partition("::")[2] for t in tests if "::" in t]
    return [*files, "-k", " or ".join(parts)] if parts else files


def survives(name: str, text: str, where: Path, tests: list[str]) -> bool:
    """Run tests on the package with one module's text changed; return whether they all pass."""
    file = where / "mutant.py"
    file.write_text(text, encoding="utf-8")
    settings = where / "pytest.ini"  # without the plugins of the whole run, which take longer to load than a test takes
    settings.write_text(f"[pytest]\npythonpath = {TESTS}\nmarkers = long: long\n", encoding="utf-8")
    words = ["-q", "-x", "-c", str(settings), "--rootdir", str(TESTS), "--import-mode=importlib", "-p", "mutant"]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *words, "-p", "no:cacheprovider", "-W", "ignore", *_selected(tests)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=TESTS.parent,
        env={
            **os.environ,
            "FIBREBOOK_MUTANT": f"fibrebook.{name}={file}",
            "PYTHONPATH": str(TESTS),
            "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",
            "PYTEST_ADDOPTS": "",
        },
        timeout=600,
    )
    assert done.returncode in (0, 1, 2), done.stdout + done.stderr  # 2: it cannot even be imported
    return done.returncode == 0


COMPARISONS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
OPERATIONS = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd, ast.Mod: ast.Mult, ast.FloorDiv: ast.Mult,
}  # fmt: skip


def _other(node: ast.AST) -> bool:
    """Make one node slightly wrong in place; return whether there is a way to."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARISONS:
        node.ops[0] = COMPARISONS[type(node.ops[0])]()
    elif isinstance(node, ast.BinOp) and type(node.op) in OPERATIONS:
        node.op = OPERATIONS[type(node.op)]()
    elif isinstance(node, ast.BoolOp):
        node.op = ast.And() if isinstance(node.op, ast.Or) else ast.Or()
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.Invert):
        node.op = ast.UAdd() if isinstance(node.op, ast.Invert) else node.op
        if isinstance(node.op, ast.Not):
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        node.value = not node.value
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        node.value = node.value + 1
    else:
        return False
    return True


def places(tree: ast.Module) -> Iterator[ast.AST]:
    """Give the nodes within functions that can be made wrong; annotations, defaults and docstrings are none."""
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        for statement in function.body:
            if isinstance(statement, ast.FunctionDef | ast.ClassDef):
                continue
            for node in ast.walk(statement):
                if isinstance(node, ast.Compare | ast.BinOp | ast.BoolOp | ast.UnaryOp | ast.Constant):
                    yield node


def mutant_of(text: str, chance: random.Random) -> tuple[str, str]:
    """Return a module's text with one place made wrong, and where and what it was."""
    tree = ast.parse(text)
    found = list(places(tree))
    while found:
        node = found.pop(chance.randrange(len(found)))
        before, line = ast.unparse(node), getattr(node, "lineno", 0)
        if _other(node):
            return ast.unparse(tree), f"line {line}: {before} -> {ast.unparse(node)}"
    return text, ""


@pytest.mark.parametrize(
    "name, sound, wrong, test",
    [pytest.param(*m, marks=() if n % 2 == 0 else pytest.mark.long) for n, m in enumerate(MISTAKES)],
)
def test_a_mistake_is_noticed(name: str, sound: str, wrong: str, test: str, tmp_path: Path) -> None:
    """Each has its test, and the package as it is passes that test."""
    text = module_path(name).read_text(encoding="utf-8")
    assert text.count(sound) == 1, "the place has changed: choose the mistake anew"
    assert not survives(name, text.replace(sound, wrong), tmp_path, [test])


def test_the_package_as_it_is_passes(tmp_path: Path) -> None:
    """Else every mutant would seem to be noticed: all those tests at once, on a module that is only unparsed."""
    text = ast.unparse(ast.parse(module_path("words.labels").read_text(encoding="utf-8")))
    assert survives("words.labels", text, tmp_path, [m[3] for m in MISTAKES if "::" in m[3]])


# rooms that reckon, the tests that are to notice, and how many of a hundred mutants may get by: many of those change
# nothing that can be seen (an order where order does not matter, a size of a picture, a bound of speed)
ROOMS = {
    "plant": (
        ["test_plant_cases.py", "test_plant_against_networkx.py", "test_crossed_cores.py", "test_open_ends.py"],
        35,
    ),
    "light": (["test_light_formulas.py", "test_light_catalogue.py", "test_headroom.py", "test_acceptance.py"], 35),
    "losses": (["test_one_loss.py", "test_loss_of_a_path.py", "test_headroom.py"], 35),
    "records": (["test_records.py", "test_rules.py", "test_register.py"], 45),
    "analyses/advice": (["test_advice_by_name.py", "test_advice_of_cords.py", "test_analyses_demo.py"], 45),
    "drawings": (["test_drawings.py", "test_site_schematic.py", "test_at_the_boundary.py"], 60),
}


@pytest.mark.long
@pytest.mark.parametrize("room", ROOMS)
def test_mutants_by_chance(room: str, tmp_path: Path, record_property: pytest.RecordProperty) -> None:
    """Few of the mutants of a room get by; each that does is named, to be looked at."""
    tests, most = ROOMS[room]
    chance = random.Random(f"{SEED} {room}")
    modules = sorted(p for p in (PACKAGE / room).rglob("*.py") if p.name != "__init__.py")
    weights = [len(list(places(ast.parse(p.read_text(encoding="utf-8"))))) for p in modules]
    assert survives(
        f"{room.replace('/', '.')}.{modules[0].stem}", modules[0].read_text(encoding="utf-8"), tmp_path, tests
    )
    got_by = []
    for module in chance.choices(modules, weights, k=SAMPLE):
        name = ".".join(module.relative_to(PACKAGE).with_suffix("").parts)
        text, what = mutant_of(module.read_text(encoding="utf-8"), chance)
        if what and survives(name, text, tmp_path, tests):
            got_by.append(f"{name}, {what}")
    record_property("got by", got_by)
    print(f"{room}: {len(got_by)} of {SAMPLE} got by", *got_by, sep="\n  ")
    assert 100 * len(got_by) <= most * SAMPLE, "\n".join(got_by)
