"""Fibre classes: one name for each, its mode, its core, and what it counts as in other tables."""

from __future__ import annotations

import re
from typing import Any

from fibrebook.errors import ValueSourceError
from fibrebook.reference.firm import PUBLISHED, FirmValues
from fibrebook.reference.tables import cached_by_values, rows

MULTIMODE, SINGLE_MODE = "multimode", "single-mode"


def fibre_classes(*, values: FirmValues = PUBLISHED) -> list[str]:
    """Return the names of all known fibre classes."""
    return [row["fibre_class"] for row in rows("fibre_classes", values=values)]


def fibre_class(text: object, *, values: FirmValues = PUBLISHED) -> str | None:
    """Return the one name of a fibre class for any spelling (om3, G652D), or None if it is not known."""
    return _names(values=values).get(_squashed(text))


def mode_of(text: object, *, values: FirmValues = PUBLISHED) -> str | None:
    """Return "multimode" or "single-mode", or None for an unknown class."""
    found = _known(text, values=values)
    return found["mode"] if found else None


def core_um_of(text: object, *, values: FirmValues = PUBLISHED) -> float | None:
    """Return the nominal core diameter [um] of a multimode class; None for single-mode or unknown."""
    found = _known(text, values=values)
    return found["core_um"] if found else None


def aperture_of(text: object, *, values: FirmValues = PUBLISHED) -> float | None:
    """Return the nominal numerical aperture of a class; None for an unknown one or where there is none."""
    found = _known(text, values=values)
    return found["numerical_aperture"] if found else None


def mode_field_um_of(text: object, *, values: FirmValues = PUBLISHED) -> float | None:
    """Return the nominal mode-field diameter at 1310 nm [um] of a single-mode class; None if there is none."""
    found = _known(text, values=values)
    return found["mode_field_um"] if found else None


def counts_as(text: object, *, values: FirmValues = PUBLISHED) -> tuple[str, ...]:
    """Return under which names a table may hold values for this class, the nearest first; () for an unknown class.

    OM3: OM3, 50 um, multimode, "". OS2: OS2, single-mode, "". The blank one stands for any fibre.
    """
    found = _known(text, values=values)
    if found is None:
        return ()
    core = (f"{found['core_um']:g} um",) if found["core_um"] is not None else ()
    return (found["fibre_class"], *core, found["mode"], "")


def _known(text: object, *, values: FirmValues) -> dict[str, Any] | None:
    return _by_name(values=values).get(_names(values=values).get(_squashed(text), ""))


def _squashed(text: object) -> str:
    return re.sub(r"[\s._\-]+", "", str(text).casefold())


@cached_by_values
def _by_name(*, values: FirmValues) -> dict[str, dict[str, Any]]:
    return {row["fibre_class"]: row for row in rows("fibre_classes", values=values)}


@cached_by_values
def _names(*, values: FirmValues) -> dict[str, str]:
    found: dict[str, str] = {}
    for row in rows("fibre_classes", values=values):
        for name in (row["fibre_class"], *filter(None, row["aliases"].split(";"))):
            if found.setdefault(_squashed(name), row["fibre_class"]) != row["fibre_class"]:
                raise ValueSourceError(
                    f"{row['file']}, line {row['line']}: {name!r} already means {found[_squashed(name)]}."
                )
    return found
