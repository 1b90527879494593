"""A plugin on trial: the register that it is tried on, and who stands at the door meanwhile."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from fibrebook import plugins
from fibrebook.plugin_check.random_rows import Rows
from fibrebook.records.kinds.built_in import KINDS, plugin_kinds
from fibrebook.reference import tables as reference
from fibrebook.register import Register, open


@dataclass(frozen=True)
class TrialStep:
    """One step: its name, whether it held, and what was found."""

    name: str
    held: bool
    found: str


class DoesNotHoldError(Exception):
    """What a step found that must not be."""


@dataclass
class Trial:
    """A plugin on trial: its name, where its register lies, and what was put there."""

    name: str
    folder: Path
    rng: Random
    rows: Rows = field(default_factory=dict)
    plugin: Any = None

    @property
    def reg(self) -> Register:
        """The register, opened anew: nothing that was remembered helps."""
        return open(self.folder / "register")

    def own_rows(self) -> Rows:
        """What the plugin's tables, and the columns that it adds to ours, hold now, in the order of their keys."""
        found = self.reg.tables(names=[*own_columns()])
        rows = {n: found[n].select([*KINDS[n].key, *columns]).to_pylist() for n, columns in own_columns().items()}
        return {n: sorted(t, key=lambda r: [r[k] for k in KINDS[n].key]) for n, t in rows.items()}


def own_columns() -> dict[str, list[str]]:
    """Return the columns of the plugin, by table: all of its own tables (without keys), those it adds to ours."""
    own = {k.name for k in plugin_kinds()}
    columns = {n: [c.name for c in (k.values if n in own else KINDS.added(n))] for n, k in KINDS.items()}
    return {n: c for n, c in columns.items() if c or n in own}


@contextmanager
def alone(name: str) -> Iterator[None]:
    """Have one plugin alone at the door, besides our own parts."""
    before = os.environ.get("FIBREBOOK_PLUGINS")
    os.environ["FIBREBOOK_PLUGINS"] = name
    plugins.manager.cache_clear()
    reference.forget()
    try:
        yield
    finally:
        if before is None:
            del os.environ["FIBREBOOK_PLUGINS"]
        else:
            os.environ["FIBREBOOK_PLUGINS"] = before
        plugins.manager.cache_clear()
        reference.forget()


@contextmanager
def instead(trial: Trial, other: Any) -> Iterator[None]:
    """Have another plugin at the door in the place of the one on trial; None: nobody."""
    door = plugins.manager()
    door.unregister(trial.plugin)
    if other is not None:
        door.register(other, name=trial.name)
    reference.forget()
    try:
        yield
    finally:
        if other is not None:
            door.unregister(other)
        door.register(trial.plugin, name=trial.name)
        reference.forget()
