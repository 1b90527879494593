"""What a firm has chosen and added, read from its register and honoured by every answer about light.

Kind `choices` holds: sources (whose figures go before where sources differ, parted by semicolons), margin_db (kept for
ageing and repair, default 0 dB), acceptance ("ISO/IEC 14763-3", the default, or "TIA-568.3"), uncertainty_db (of a
loss test whose own is not recorded). Kind `reference_values` holds the firm's own rows of the reference tables.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, TypeVar

import pyarrow as pa

from fibrebook.errors import ValueSourceError
from fibrebook.records.firm_kinds import CHOICE_NAMES
from fibrebook.reference import choices as reference_choices
from fibrebook.reference.firm import FirmValues, honoured
from fibrebook.reference.tables import rows

if TYPE_CHECKING:
    from fibrebook.register import Register

STYLES = ("ISO/IEC 14763-3", "TIA-568.3")
P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True)
class Choices:
    """A firm's choices; `margin_db` is taken from every headroom, `uncertainty_db` None = the usual one."""

    margin_db: float = 0.0
    acceptance: str = STYLES[0]
    uncertainty_db: float | None = None


def firm_values(reg: Register) -> FirmValues:
    """Return the firm's own reference rows and choice of sources as the register holds them."""
    found = reg.tables(names=["choices", "reference_values"])
    return values_of(found["choices"], found["reference_values"])


def values_of(choices: pa.Table, reference_values: pa.Table) -> FirmValues:
    """Return the same from the two tables. Raises ValueSourceError that names a row of no reference table."""
    own: dict[str, list[dict[str, Any]]] = {}
    for number, row in enumerate(reference_values.to_pylist(), 1):
        where = {"file": f"reference_values, row {row['row']}", "line": number}
        told = {k: v for k, v in row.items() if k not in ("row", "reference_table", "preferred_as", "notes")}
        ranked = {"choice": row["preferred_as"] or "the firm's own", "default": "yes"}
        own.setdefault(row["reference_table"], []).append(told | ranked | where)
    wanted = _said(choices).get("sources", "")
    sources = tuple(s.strip() for s in wanted.split(";") if s.strip())
    if not own and not sources:
        return FirmValues()
    token = hashlib.sha256(repr((own, sources)).encode()).hexdigest()
    return FirmValues(token, own, sources)


def firm_choices(reg: Register) -> Choices:
    """Return the firm's choices; an unknown one, or a value that cannot be, is a ValueSourceError that names it."""
    return choices_of(reg.tables(names=["choices"])["choices"])


def choices_of(choices: pa.Table) -> Choices:
    """Return the same from the table."""
    said = _said(choices)
    unknown = [name for name in said if name not in CHOICE_NAMES]
    if unknown:
        raise ValueSourceError(f"choices: there is no choice {unknown[0]!r}; there are {', '.join(CHOICE_NAMES)}")
    style = said.get("acceptance") or STYLES[0]
    if style not in STYLES:
        raise ValueSourceError(f"choices: acceptance is {style!r}; it may be {' or '.join(STYLES)}")
    margin_db = _number(said, "margin_db")
    return Choices(margin_db or 0.0, style, _number(said, "uncertainty_db"))


def check_firm(reg: Register) -> None:
    """Raise ValueSourceError where a choice names a source that no row has, or an own row does not fit its table."""
    firm_choices(reg)
    with honoured(firm_values(reg)):
        reference_choices.preference(None)
        for name in firm_values(reg).rows:
            rows(name)


def by_the_firm(answer: Callable[Concatenate[Register, P], T]) -> Callable[Concatenate[Register, P], T]:
    """Let an answer honour the firm's own values and choice of sources; its first argument is the register."""

    @wraps(answer)
    def honouring(reg: Register, *given: P.args, **named: P.kwargs) -> T:
        with honoured(firm_values(reg)):
            return answer(reg, *given, **named)

    return honouring


def practice(name: str) -> float:
    """Return a value of the table `practice` (test uncertainty, slack at an enclosure...), the firm's own first."""
    found = [row for row in rows("practice") if row["name"] == name]
    winner = reference_choices.pick(found, reference_choices.preference(None))
    if winner is None or winner["value"] is None:
        raise ValueSourceError(f"there is no value of practice {name!r}")
    return float(winner["value"])


def _said(choices: pa.Table) -> dict[str, str]:
    return {row["choice"]: row["value"] or "" for row in choices.to_pylist()}


def _number(said: dict[str, str], name: str) -> float | None:
    if not said.get(name):
        return None
    try:
        value = float(said[name].replace(",", ".").removesuffix("dB"))
    except ValueError:
        raise ValueSourceError(f"choices: {name} is {said[name]!r}, not a number of dB") from None
    if not 0 <= value <= 20:
        raise ValueSourceError(f"choices: {name} = {value:g} dB is impossible: it must lie from 0 to 20 dB")
    return value
