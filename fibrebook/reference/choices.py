"""Where published figures disagree, both stand in the table; here is said which one wins.

A row's `choice` names whose figure it is ("ISO/IEC 11801-1", "TIA-568.3-D"...); `default` marks the stricter one,
that is the one that leaves less headroom (more loss assumed, less loss allowed). More loss assumed at a tested end is
more allowed to a test: there the default is no stricter, and the newest edition goes first
(`light.catalogue.editions`). A firm names its own preference:
one choice, or several in order of preference; where a group has no row of that choice its default stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from fibrebook.errors import ValueSourceError
from fibrebook.reference.firm import PUBLISHED, FirmValues
from fibrebook.reference.tables import rows

Choice = str | Sequence[str] | None

KEYS = {
    "attenuation": ("fibre_class", "wavelength_nm", "wavelength_to_nm", "grade"),
    "application_limits": ("application", "fibre_class", "wavelength_nm"),
    "component_losses": ("component", "mode", "grade", "quantity"),
    "group_index": ("fibre_class", "wavelength_nm"),
}


def names(table_name: str | None = None, *, values: FirmValues = PUBLISHED) -> list[str]:
    """Return the choices that occur in one table, or in any."""
    found = {row["choice"] for name in ([table_name] if table_name else KEYS) for row in rows(name, values=values)}
    return sorted(found - {""})


def preference(choice: Choice, *, values: FirmValues = PUBLISHED) -> tuple[str, ...]:
    """Return the choice as a tuple, best first; an unknown one is an error that names the known ones.

    None stands for what the firm has chosen (`values.sources`), which by default is nothing.
    """
    wanted = values.sources if choice is None else (choice,) if isinstance(choice, str) else tuple(choice)
    if wanted:
        known = names(values=values)
        for name in wanted:
            if name not in known:
                raise ValueSourceError(f"No reference value has the choice {name!r}. Known: {', '.join(known)}.")
    return wanted


def pick(candidates: Iterable[dict[str, Any]], wanted: tuple[str, ...] = ()) -> dict[str, Any] | None:
    """Return the row that wins among rows of one group: the first wanted choice there is, else the default.

    Of several defaults the last wins, so a plugin's default goes before a built-in one.
    """
    group: list[dict[str, Any]] = list(candidates)
    row: dict[str, Any]
    for name in wanted:
        for row in reversed(group):
            if row["choice"] == name:
                return row
    return next((row for row in reversed(group) if row["default"] == "yes"), None)


def chosen(table_name: str, choice: Choice = None, *, values: FirmValues = PUBLISHED) -> list[dict[str, Any]]:
    """Return the winning rows of a whole table, one for each group (KEYS) that has a winner."""
    groups: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for row in rows(table_name, values=values):
        groups.setdefault(tuple(row[k] for k in KEYS[table_name]), []).append(row)
    wanted = preference(choice, values=values)
    winners = (pick(group, wanted) for group in groups.values())
    return [row for row in winners if row is not None]
