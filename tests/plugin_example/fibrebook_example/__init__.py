"""A tiny plugin: one colour code, one reference value, two layouts, one advice check, one analysis, one kind of record."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from fibrebook.plugins import hookimpl
from fibrebook.records import Kind
from fibrebook_example.ducts import DUCTS

HERE = Path(__file__).parent


@hookimpl
def reference_files() -> Iterable[Path]:
    """Give a colour code of our own and the attenuation of a fibre of our own."""
    return [HERE / "colour_codes.csv", HERE / "attenuation.csv", HERE / "fibre_classes.csv"]


@hookimpl
def layout_files() -> Iterable[Path]:
    """Give layouts that read our firm's cable list and its duct list."""
    return [HERE / "example_cable_list.toml", HERE / "example_duct_list.toml"]


@hookimpl
def advice_checks() -> Iterable[Callable[..., Any]]:
    """Give a check that names sites without a contact."""
    return [no_contact]


@hookimpl
def analyses() -> Mapping[str, Callable[..., Any]]:
    """Give an analysis: metres of cable by fibre class."""
    return {"metres_by_class": metres_by_class}


@hookimpl
def record_kinds() -> Iterable[Kind]:
    """Give the ducts."""
    return [DUCTS]


def no_contact(situation: Any) -> Iterator[Any]:
    """Name each site that has no contact."""
    for row in situation.tables["sites"].to_pylist():
        if not row["contact"]:
            yield situation.advise("no contact", "sites", row, "nobody is named to ask for", "ask at the next visit")


def metres_by_class(reg: Any) -> Any:
    """Return metres of cable by fibre class (columns fibre_class, length_m)."""
    return reg.table("cables").groupby("fibre_class", as_index=False)["length_m"].sum()
