"""What a register lives through, tried with a plugin: each step tells whether it holds and what was found."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

from fibrebook import plugins
from fibrebook.analyses.advice.advice import all_advice
from fibrebook.analyses.advice.situation import Situation
from fibrebook.errors import FibrebookError, NotFoundError, RuleError
from fibrebook.plugin_check.random_rows import Rows, fill, random_plant, random_rows
from fibrebook.plugin_check.trial import DoesNotHoldError, Trial, TrialStep, alone, instead, own_columns
from fibrebook.plugin_check.visit_sections import visit_sections
from fibrebook.readers.bring_in.bring_in import bring_in
from fibrebook.readers.lists.values.cell_readers import CellReaders
from fibrebook.records.kinds.built_in import KINDS, plugin_kinds
from fibrebook.records.kinds.declared import Column, Kind
from fibrebook.records.values import label_schemes
from fibrebook.reference import tables as reference
from fibrebook.register import create
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.workbook import send_out

BY, WHY = "check", "a plugin is tried"
FILES = {"out.xlsx": b"PK\x03\x04", "list.csv": b"cable,core\n", "a.txt": b"", "Ø 40.sor": bytes(range(256))}
CELLS = ("1-4", "Bl/Or", "<0.1", "12,5 m", "ok", "-", "Ø 40")  # what stands in people's lists
TRIES = 20  # random rows that a plugin's own rules refuse are taken out and the rest tried again, at most so often
LATER = Column("added_by_a_later_version", "text", "A column that only another version of the plugin has.")


def try_plugin(name: str, seed: int = 0) -> list[TrialStep]:
    """Try an installed plugin on a register of random rows, alone at the door; return the steps in their order.

    A step that needs one that failed is not gone on to.

    Raises
    ------
    NotFoundError : no plugin of that name is installed
    """
    with tempfile.TemporaryDirectory(prefix="fibrebook-check-") as folder, alone(name):
        if plugins.manager().get_plugin(name) is None and not plugins.faults():
            raise NotFoundError(f"no plugin {name!r} is installed; the command `plugins` lists those that are")
        trial = Trial(name, Path(folder), Random(seed))
        out = []
        for what, step in STEPS:
            try:
                out.append(TrialStep(what, True, step(trial)))
            except Exception as error:  # whatever a stranger's code may raise
                told = str(error) if isinstance(error, (FibrebookError, DoesNotHoldError)) else repr(error)
                out.append(TrialStep(what, False, told))
                if step in NEEDED:
                    break
        return out


def _is_well() -> None:
    if plugins.faults():
        raise DoesNotHoldError(plugins.in_words())


def load(trial: Trial) -> str:
    """Its module is imported and its hooks are ones that there are."""
    _is_well()
    trial.plugin = plugins.manager().get_plugin(trial.name)
    return "loaded"


def give(trial: Trial) -> str:
    """Its hooks give declarations whose code is there, kinds without fault, files that can be read."""
    plugins.ask_all()
    list(KINDS)
    for table in reference.names():
        reference.rows(table)
    _is_well()
    told = []
    for implementation in plugins.manager().get_hookcallers(trial.plugin) or []:
        if implementation.name == "file_reader":
            told.append(f"{_files_taken(trial.name)} of {len(FILES)} files")
            continue
        given = list(dict(plugins.gathered(implementation.name)).get(trial.name, ()))
        for one in given:
            if isinstance(one, plugins.Declared):
                plugins.code(one.run)
        told.append(f"{len(given)} of {implementation.name}")
    return ", ".join(sorted(told)) or "nothing"


def _files_taken(name: str) -> int:
    taken = [found[1] for file in FILES.items() if (found := plugins.reader_of(*file)) and found[0] == name]
    for run in taken:
        plugins.code(run)
    _is_well()
    return len(taken)


def commit(trial: Trial) -> str:
    """Random rows of every kind are committed in a new register and are read as they were put."""
    reg = create(trial.folder / "register")
    trial.rows = random_plant(trial.rng)
    for kind in plugin_kinds():
        trial.rows[kind.name] = random_rows(kind, trial.rows, trial.rng)
    added = {n: KINDS.added(n) for n in KINDS if KINDS.added(n)}
    for name, columns in added.items():
        fill(trial.rows, name, columns, trial.rng)
    refused = 0
    for _ in range(TRIES):
        try:
            with reg.edit(by=BY, why=WHY) as edit:
                for name in KINDS:
                    if trial.rows.get(name):
                        edit.put(name, trial.rows[name])
            break
        except RuleError as error:
            refused += _take_out(trial, error)
    else:
        raise DoesNotHoldError("its hard rules refuse whatever random rows are put")
    tables = trial.own_rows()
    for kind in plugin_kinds():
        put, there = len(trial.rows[kind.name]), len(tables[kind.name])
        if put != there:
            raise DoesNotHoldError(f"{put} rows of {kind.name} were put and {there} are there")
    for name, columns in added.items():
        _as_put(name, [c.name for c in columns], trial.rows.get(name, []), tables[name])
    of_own = ", ".join(f"{len(t)} {n}" for n, t in tables.items()) or "no kind of its own"
    return f"{of_own}; its hard rules refused {refused} random rows" if refused else of_own


def _as_put(kind: str, columns: list[str], put: list[dict[str, Any]], there: list[dict[str, Any]]) -> None:
    def by_key(rows: list[dict[str, Any]]) -> dict[Any, list[Any]]:
        return {tuple(r.get(k) for k in KINDS[kind].key): [r.get(c) for c in columns] for r in rows}

    if by_key(put) != by_key(there):
        raise DoesNotHoldError(f"the values that were put in columns of {kind} are others")


def _take_out(trial: Trial, error: RuleError) -> int:
    """Take the plugin's own rows and values that a rule names out of what is put; it names none: nothing to try."""
    bad = {(p.table, p.key) for p in error.problems}
    count = 0
    for name in own_columns():
        blank = {c.name: None for c in KINDS.added(name)}
        for row in trial.rows.get(name, []):
            if (name, tuple(row.get(k) for k in KINDS[name].key)) in bad and any(row.get(c) is not None for c in blank):
                row.update(blank)
                count += 1
    for kind in plugin_kinds():
        kept = [r for r in trial.rows[kind.name] if (kind.name, tuple(r.get(k) for k in kind.key)) not in bad]
        count += len(trial.rows[kind.name]) - len(kept)
        trial.rows[kind.name] = kept
    if not count:
        raise error
    return count


def answer(trial: Trial) -> str:
    """Its advice checks, analyses, ways of calling records and readers of cells answer; its schemes stand."""
    import pandas as pd

    reg = trial.reg
    found = all_advice(Situation(PlantSnapshot.of(reg)))
    label_schemes.schemes()
    readers = CellReaders()
    for kind, text in ((k, t) for k in readers.kinds() for t in CELLS):
        readers.read(kind, text, kind)
    for site in reg.sites():
        PlantSnapshot.of(reg, site).spoken.meant(("orange", "7", *WHY.split()))
    _is_well()
    ours = {a.name for a in dict(plugins.gathered("analyses"))[trial.name]} if _gives(trial, "analyses") else set()
    for name in sorted(ours):
        frame = plugins.gathered_analyses()[name].function(reg)
        if not isinstance(frame, pd.DataFrame):
            raise DoesNotHoldError(f"the analysis {name!r} gives {type(frame).__name__} where a DataFrame is wanted")
    return f"{len(found)} lines of advice, {len(ours)} analyses"


def visit(trial: Trial) -> str:
    """Its sections of *Record a visit* keep to their contract."""
    found = visit_sections(trial)
    _is_well()
    return found


def _gives(trial: Trial, hook: str) -> bool:
    return trial.name in dict(plugins.gathered(hook))


def undo(trial: Trial) -> str:
    """The commit is undone, and that undone again: every table is as it was."""
    reg, before = trial.reg, trial.own_rows()
    taken_back = reg.undo(reg.commit, by=BY, why=WHY)
    left = sum(len(t) for t in trial.own_rows().values())
    if left:
        raise DoesNotHoldError(f"{left} rows are still there after the undo")
    trial.reg.undo(taken_back, by=BY, why=WHY)
    _same(before, trial.own_rows(), "after an undo and its undo")
    return "there and back"


def take_away(trial: Trial) -> str:
    """A copy is taken away, changed and brought back."""
    before = trial.own_rows()
    copy = trial.reg.take_away(trial.folder / "copy")
    with copy.edit(by=BY, why=WHY) as edit:
        edit.put("sites", [{"site": "North yard", "notes": "seen"}])
    trial.reg.bring_back(trial.folder / "copy", by=BY, why=WHY)
    if "seen" not in trial.reg.table("sites")["notes"].tolist():
        raise DoesNotHoldError("what was changed in the copy did not come back")
    _same(before, trial.own_rows(), "after a copy came back")
    return "there and back"


def workbook(trial: Trial) -> str:
    """A workbook goes out and comes back without a change."""
    path = send_out(trial.reg, trial.folder / "out.xlsx")
    report = bring_in(trial.reg, path, by=BY, why=WHY)
    if report.commit is not None:
        raise DoesNotHoldError("a workbook that nobody changed is a change")
    return "comes back unchanged"


def absent(trial: Trial) -> str:
    """Without the plugin the register reads and is saved in, and its tables stay as they are."""
    before = trial.own_rows()
    kinds = {k.name for k in plugin_kinds()}
    own = sorted(n for n, t in before.items() if t and n in kinds)
    columns = [
        f"{t}.{c}" for t, added in sorted(own_columns().items()) if t not in kinds and before[t] for c in sorted(added)
    ]
    with instead(trial, None):
        reg = trial.reg
        if reg.undeclared() != [*own, *columns]:
            raise DoesNotHoldError(f"without their plugin are {reg.undeclared()}, not {[*own, *columns]}")
        reg.tables()
        with reg.edit(by=BY, why=WHY) as edit:
            edit.put("sites", [{"site": "North yard", "notes": "seen again"}])
    _same(before, trial.own_rows(), "after a save without the plugin")
    return f"{len(own)} tables of its own and {len(columns)} columns wait for it"


def other_version(trial: Trial) -> str:
    """A later version's new column is blank in older rows; an earlier one that lacks it is told so."""
    kinds = plugin_kinds()
    if not kinds:
        return "no kind of its own"
    before = trial.own_rows()
    later = [replace(k, columns=(*k.columns, LATER)) for k in kinds]
    with instead(trial, _stands_for(later)):
        for kind in later:
            table = trial.reg.arrow(kind.name)
            if table[LATER.name].null_count != table.num_rows:
                raise DoesNotHoldError(f"a new column of {kind.name} is not blank in older rows")
            _write_later(trial, kind)
    for kind in kinds:
        try:
            if before[kind.name]:
                trial.reg.arrow(kind.name)
                raise DoesNotHoldError(f"{kind.name} is read by a version that lacks one of its columns")
        except FibrebookError as error:
            if "plugin" not in str(error):
                raise
    return "a later version's column is blank; an earlier version is told"


def _write_later(trial: Trial, kind: Kind) -> None:
    rows = trial.reg.arrow(kind.name).select(list(kind.key)).to_pylist()
    if rows:
        with trial.reg.edit(by=BY, why=WHY) as edit:
            edit.put(kind.name, [{**rows[0], LATER.name: "later"}])


def _stands_for(kinds: list[Kind]) -> Any:
    give_kinds = plugins.hookimpl(lambda: kinds)
    give_kinds.__name__ = "record_kinds"
    return type("OtherVersion", (), {"record_kinds": staticmethod(give_kinds)})()


def _same(before: Rows, after: Rows, when: str) -> None:
    for name, rows in before.items():
        if rows != after[name]:
            raise DoesNotHoldError(f"the rows of {name} are others {when}")


NEEDED = (load, give, commit)
STEPS: tuple[tuple[str, Callable[[Trial], str]], ...] = (
    ("load", load),
    ("what it gives", give),
    ("commit", commit),
    ("advice and analyses", answer),
    ("sections of a visit", visit),
    ("undo", undo),
    ("take away, bring back", take_away),
    ("workbook", workbook),
    ("absent", absent),
    ("other version", other_version),
)
