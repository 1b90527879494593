"""A tiny plugin: one colour code, one reference value, two layouts, one advice check, hard rule,
analysis, line of the front page, screen, section of a visit, sheet, command, kind of record, column of a kind that is there
and way of calling records."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from fibrebook.errors import Problem
from fibrebook.plugins import (
    AdviceCheck,
    Analysis,
    Attention,
    Command,
    HardRule,
    Page,
    PrintedSheet,
    SpokenName,
    VisitSection,
    hookimpl,
)
from fibrebook.records import Column, Kind
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
def advice_checks() -> Iterable[AdviceCheck]:
    """Give a check that names sites without a contact."""
    return [AdviceCheck("no contact", "fibrebook_example:no_contact", "A site where nobody is named to ask for.")]


@hookimpl
def hard_rules() -> Iterable[HardRule]:
    """Give a rule: a duct is not narrower than the cables that we draw."""
    return [HardRule("wide enough", "fibrebook_example:wide_enough", "A duct is not narrower than 10 mm.", ("ducts",))]


@hookimpl
def analyses() -> Iterable[Analysis]:
    """Give an analysis: metres of cable by fibre class."""
    return [Analysis("metres_by_class", "fibrebook_example:metres_by_class", "Metres of cable by fibre class.")]


@hookimpl
def attention() -> Iterable[Attention]:
    """Give a line of the front page: sites whose customer was never written down."""
    return [Attention("No customer", "fibrebook_example:no_customer", "Sites without a customer.")]


@hookimpl
def screens() -> Iterable[Page]:
    """Give a screen: the ducts of the firm."""
    about = "Every duct, and what lies in it."
    return [Page("ducts", "fibrebook_example.screen:Ducts", about, "Ducts", ("pipe", "conduit"))]


@hookimpl
def sections() -> Iterable[VisitSection]:
    """Give a section of a visit: ducts that were looked into."""
    about = "Ducts that were looked into, and whether they are closed."
    return [VisitSection("ducts", "fibrebook_example.section:DuctSection", about)]


@hookimpl
def sheets() -> Iterable[PrintedSheet]:
    """Give a sheet: the ducts of a site."""
    return [PrintedSheet("duct-card", "fibrebook_example:duct_card", "The ducts of a site, to take along.")]


@hookimpl
def commands() -> Iterable[Command]:
    """Give a command: the sealed ducts of the register."""
    return [Command("sealed-ducts", "fibrebook_example.commands:sealed_ducts", "List the ducts that are sealed.")]


@hookimpl
def record_kinds() -> Iterable[Kind]:
    """Give the ducts."""
    return [DUCTS]


@hookimpl
def spoken_names() -> Iterable[SpokenName]:
    """Give a way of calling cables: by the drum that they came on."""
    return [SpokenName("cables", "fibrebook_example:by_drum", "A cable by its drum: drum 7.")]


@hookimpl
def extra_columns() -> Mapping[str, Iterable[Column]]:
    """Give a column of cables: the drum that each came on."""
    return {"cables": [Column("drum", "label", "Number of the drum that it came on.")]}


def duct_card(reg: Any, site: str) -> str:
    """Write the labels of a site's ducts."""
    return f"<!doctype html><title>{site}</title><p>{', '.join(reg.table('ducts', site)['duct'])}</p>"


def wide_enough(tables: Mapping[str, Any]) -> Iterator[Problem]:
    """Refuse each duct of less than 10 mm."""
    for row in tables["ducts"].to_pylist() if "ducts" in tables else ():
        if row["inside_mm"] is not None and row["inside_mm"] < 10:
            key = (row["site"], row["duct"])
            yield Problem(
                f"ducts {row['duct']}", "is narrower than 10 mm", "measure it again", "ducts", key, "inside_mm"
            )


def by_drum(seen: Any) -> Callable[[Sequence[str]], tuple[list[tuple[tuple[str], str]], list[str]]]:
    """Read "drum" and a drum's number as the cables that came on it."""
    drums = [(row["cable"], row["drum"]) for row in seen.table("cables").to_pylist() if row["drum"]]

    def asked(words: Sequence[str]) -> tuple[list[tuple[tuple[str], str]], list[str]]:
        if "drum" not in words[:-1]:
            return [], list(words)
        at = list(words).index("drum")
        found = [((cable,), f"came on drum {drum}") for cable, drum in drums if drum.casefold() == words[at + 1]]
        return found, [*words[:at], *words[at + 2 :]]

    return asked


def no_contact(situation: Any) -> Iterator[Any]:
    """Name each site that has no contact."""
    for row in situation.tables["sites"].to_pylist():
        if not row["contact"]:
            yield situation.advise("no contact", "sites", row, "nobody is named to ask for", "ask at the next visit")


def no_customer(reg: Any) -> Any:
    """Return sites without a customer (columns site, what)."""
    sites = reg.table("sites")
    return sites.loc[sites["customer"].isna(), ["site"]].assign(what="whose is it?")


def metres_by_class(reg: Any) -> Any:
    """Return metres of cable by fibre class (columns fibre_class, length_m)."""
    return reg.table("cables").groupby("fibre_class", as_index=False)["length_m"].sum()
