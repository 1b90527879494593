"""The hooks, each of one sentence. A hook gives declarations; the code that they name is imported when it runs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pluggy

from fibrebook.plugins.declared import (
    AdviceCheck,
    Analysis,
    Attention,
    Command,
    HardRule,
    Page,
    PrintedSheet,
    SpokenName,
    VisitSection,
)

PROJECT = "fibrebook"
hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def reference_files() -> Iterable[Path]:  # type: ignore[empty-body]
    """Give CSV files of reference rows, named after the table they extend (``colour_codes.csv``, ...)."""


@hookspec
def layout_files() -> Iterable[Path]:  # type: ignore[empty-body]
    """Give TOML layouts that tell how a firm's own spreadsheet is to be read."""


@hookspec
def advice_checks() -> Iterable[AdviceCheck]:  # type: ignore[empty-body]
    """Give advice checks: each takes the plant of a site or of all and yields what is worth a second look."""


@hookspec
def analyses() -> Iterable[Analysis]:  # type: ignore[empty-body]
    """Give analyses: each takes a register (and keywords) and returns a DataFrame."""


@hookspec
def attention() -> Iterable[Attention]:  # type: ignore[empty-body]
    """Give lines of the front page: each takes a register and returns a DataFrame with site and what."""


@hookspec
def sections() -> Iterable[VisitSection]:  # type: ignore[empty-body]
    """Give sections of *Record a visit*: each with a state of its own, the rows that it makes, and its widgets."""


@hookspec
def screens() -> Iterable[Page]:  # type: ignore[empty-body]
    """Give screens that the front page leads to, each with its address."""


@hookspec
def sheets() -> Iterable[PrintedSheet]:  # type: ignore[empty-body]
    """Give sheets to hand out or carry along: each takes a register and a site, and returns HTML's text or a PDF."""


@hookspec
def commands() -> Iterable[Command]:  # type: ignore[empty-body]
    """Give commands of the command line, each with its line of help."""


@hookspec
def hard_rules() -> Iterable[HardRule]:  # type: ignore[empty-body]
    """Give hard rules: what no change may bring, each with the kinds that it reads."""


@hookspec
def record_kinds() -> Iterable[Any]:  # type: ignore[empty-body]
    """Give kinds of record (`fibrebook.records.Kind`): tables of the register, with sheet, form, checks and history."""


@hookspec
def spoken_names() -> Iterable[SpokenName]:  # type: ignore[empty-body]
    """Give ways in which people call records of a kind, for `find` and `which`."""


@hookspec
def extra_columns() -> Mapping[str, Iterable[Any]]:  # type: ignore[empty-body]
    """Give columns (`fibrebook.records.Column`) to add to kinds that are there, by the kind's name."""
