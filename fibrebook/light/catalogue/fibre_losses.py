"""Published attenuation of fibre and loss of connections and splices, looked up for whole arrays."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from fibrebook.errors import ValueSourceError
from fibrebook.light.catalogue.look_up_once import is_scalar, per_kind
from fibrebook.reference.choices import Choice, pick, preference
from fibrebook.reference.fibres import counts_as, fibre_classes
from fibrebook.reference.firm import PUBLISHED, FirmValues
from fibrebook.reference.tables import cached_by_values, how_known, rows

TWINS_NM = (1300.0, 1310.0)  # one window: a value at either serves the other (common practice, no source)
NOTHING = float("nan")


def attenuation_db_per_km(
    fibre_class: Any,
    wavelength_nm: ArrayLike,
    grade: str = "maximum",
    choice: Choice = None,
    *,
    values: FirmValues = PUBLISHED,
) -> float | np.ndarray:
    """Return the published attenuation [dB/km] of fibre classes at wavelengths; NaN where the table has none.

    Parameters
    ----------
    fibre_class : name or names (OM3, OS2, G.652.D...); wavelength_nm : [nm]; both broadcast.
    grade : "maximum" (of the cabling standard), "typical" (design value) or "link model" (IEEE 802.3).
    choice : whose figure goes before where sources differ; default the higher one.

    Between two wavelengths of the table the value runs linearly in wavelength^-4, the law of Rayleigh scattering
    (Senior, ch. 3); outside them it is NaN. A row that covers a range holds all over it, the narrowest first.
    1300 and 1310 nm name one window and serve each other there. `no_attenuation_because` tells why a value is NaN.
    """
    found = _attenuations(fibre_class, wavelength_nm, grade, choice, values=values)[0]
    return float(found[0]) if is_scalar(fibre_class, wavelength_nm) else found


def no_attenuation_because(
    fibre_class: Any,
    wavelength_nm: ArrayLike,
    grade: str = "maximum",
    choice: Choice = None,
    *,
    values: FirmValues = PUBLISHED,
) -> list[str]:
    """Return, once each, what `attenuation_db_per_km` has no value for and why; [] if it has them all."""
    return sorted(set(_attenuations(fibre_class, wavelength_nm, grade, choice, values=values)[1]) - {""})


def attenuation_source(
    fibre_class: Any,
    wavelength_nm: ArrayLike,
    grade: str = "maximum",
    choice: Choice = None,
    *,
    values: FirmValues = PUBLISHED,
) -> np.ndarray:
    """Return, for each value of `attenuation_db_per_km`, where it was published, with its basis ("" for NaN)."""
    return _attenuations(fibre_class, wavelength_nm, grade, choice, values=values)[2]


def connection_db(
    fibre_class: Any = "",
    quantity: str = "limit",
    grade: str = "",
    choice: Choice = None,
    *,
    array: bool = False,
    values: FirmValues = PUBLISHED,
) -> float | np.ndarray:
    """Return the published loss of a connection (a mated pair) [dB]; NaN where the table has none.

    Parameters
    ----------
    fibre_class : name or names; blank = any fibre.
    quantity : "limit", "typical", "mean", "97 %", "95 %", "50 %" or "return loss limit".
    grade : "" (standard grade), "reference to standard", "reference to reference", or B, C, D, Bm, Cm (IEC 61753-1).
    array : True for multi-fibre (array) connectors.
    """
    return _component(
        "array connection" if array else "connection", fibre_class, quantity, grade, choice, values=values
    )


def splice_db(
    method: Any = "",
    fibre_class: Any = "",
    quantity: str = "limit",
    choice: Choice = None,
    *,
    values: FirmValues = PUBLISHED,
) -> float | np.ndarray:
    """Return the published loss of a splice [dB]; NaN where the table has none.

    Parameters
    ----------
    method : "fusion", "mechanical" or blank (either), one or many; fibre_class : name or names, blank = any fibre.
    quantity : "limit" or "typical".
    """
    wanted = preference(choice, values=values)

    def look_up(one_method: str | None, one_class: str | None) -> tuple[float]:
        names = {"": ("splice",), "fusion": ("fusion splice", "splice"), "mechanical": ("mechanical splice", "splice")}
        if (one_method or "") not in names:
            raise ValueSourceError(f"Unknown splice method {one_method!r}. Known: fusion, mechanical.")
        return (_component_value(names[one_method or ""], one_class or "", quantity, "", wanted, values=values),)

    found = per_kind(look_up, method, fibre_class)[0]
    return float(found[0]) if is_scalar(method, fibre_class) else found


def _attenuations(
    fibre_class: Any, wavelength_nm: ArrayLike, grade: str, choice: Choice, *, values: FirmValues
) -> list[np.ndarray]:
    wanted = preference(choice, values=values)
    grades = {row["grade"] for row in rows("attenuation", values=values)}
    if grade not in grades:
        raise ValueSourceError(f"Unknown grade of attenuation {grade!r}. Known: {', '.join(sorted(grades))}.")

    def look_up(one_class: str | None, wavelength: float) -> tuple[float, str, str]:
        return _attenuation(one_class or "", wavelength, grade, wanted, values=values)

    look_up.answers = 3  # type: ignore[attr-defined]
    return per_kind(look_up, fibre_class, np.asarray(wavelength_nm, float))


@cached_by_values
def _attenuation(
    fibre_class: str, wavelength_nm: float, grade: str, wanted: tuple[str, ...], *, values: FirmValues
) -> tuple[float, str, str]:
    """Return (dB/km, "", its source) or (NaN, why not, "")."""
    if not fibre_class:
        return NOTHING, "the fibre class is not told", ""
    if np.isnan(wavelength_nm):
        return NOTHING, f"{fibre_class}: the wavelength is not told", ""
    names = counts_as(fibre_class, values=values)
    if not names:
        return (
            NOTHING,
            f"fibre class {fibre_class!r} is not known (known: {', '.join(fibre_classes(values=values))})",
            "",
        )
    curve = next((c for name in names if (c := _curve(name, grade, wanted, values=values))), None)
    if curve is None:
        return NOTHING, f"{fibre_class}: no {grade} attenuation is published here", ""
    piece = _covering(curve, wavelength_nm) or (_of_window(curve) if wavelength_nm in TWINS_NM else None)
    if piece:
        return piece.value, "", piece.source
    below = [p for p in curve if p.end_nm < wavelength_nm]
    above = [p for p in curve if p.start_nm > wavelength_nm]
    if not below or not above:
        piece = _of_window(curve) if min(TWINS_NM) < wavelength_nm < max(TWINS_NM) else None
        if piece:
            return piece.value, "", piece.source
        first, last = min(p.start_nm for p in curve), max(p.end_nm for p in curve)
        return NOTHING, f"{fibre_class} at {wavelength_nm:g} nm: published from {first:g} to {last:g} nm only", ""
    left, right = max(below, key=lambda p: p.end_nm), min(above, key=lambda p: p.start_nm)
    share = (left.end_nm**-4 - wavelength_nm**-4) / (left.end_nm**-4 - right.start_nm**-4)
    sources = dict.fromkeys((left.source, right.source))
    return left.value + share * (right.value - left.value), "", " / ".join(sources) + "; between, as wavelength^-4"


def _covering(curve: list[_Piece], wavelength_nm: float) -> _Piece | None:
    covering = [piece for piece in curve if piece.start_nm <= wavelength_nm <= piece.end_nm]
    return min(covering, key=lambda p: p.end_nm - p.start_nm, default=None)


def _of_window(curve: list[_Piece]) -> _Piece | None:
    """Return what stands at 1300 or at 1310 nm, whichever is published: one window of the trade by two names.

    It answers for the window only and is no point of the law between the other wavelengths: a coarse wavelength
    channel at 1291 nm lies between the published ones, not between them and a copy.
    """
    found = (_covering(curve, twin) for twin in TWINS_NM)
    return next((piece for piece in found if piece), None)


class _Piece(NamedTuple):
    """One published value: at a point (start = end) or over a range of wavelengths."""

    start_nm: float
    end_nm: float
    value: float
    source: str


@cached_by_values
def _curve(name: str, grade: str, wanted: tuple[str, ...], *, values: FirmValues) -> list[_Piece]:
    """Return the values of one class, each the winner of its group."""
    groups: dict[tuple[float, float | None], list[dict[str, Any]]] = {}
    for row in rows("attenuation", values=values):
        if row["fibre_class"] == name and row["grade"] == grade:
            groups.setdefault((row["wavelength_nm"], row["wavelength_to_nm"]), []).append(row)
    pieces: list[_Piece] = []
    for (start, end), group in groups.items():
        winner = pick(group, wanted)
        if winner is not None:
            told = f"{winner['source']} ({how_known(winner)})"
            pieces.append(_Piece(start, start if end is None else end, winner["attenuation_db_per_km"], told))
    return pieces


def _component(
    component: str, fibre_class: Any, quantity: str, grade: str, choice: Choice, *, values: FirmValues
) -> float | np.ndarray:
    wanted = preference(choice, values=values)

    def look_up(one_class: str | None) -> tuple[float]:
        return (_component_value((component,), one_class or "", quantity, grade, wanted, values=values),)

    found = per_kind(look_up, fibre_class)[0]
    return float(found[0]) if is_scalar(fibre_class) else found


def joint_source(
    component: str,
    fibre_class: str = "",
    quantity: str = "limit",
    grade: str = "",
    choice: Choice = None,
    *,
    values: FirmValues = PUBLISHED,
) -> str:
    """Return where the loss of a component was published, with its basis; "" where the table has none.

    component : "connection", "array connection", "splice", "fusion splice" or "mechanical splice".
    """
    row = _component_row((component,), fibre_class, quantity, grade, preference(choice, values=values), values=values)
    return f"{row['source']} ({how_known(row)})" if row else ""


def _component_value(
    components: tuple[str, ...],
    fibre_class: str,
    quantity: str,
    grade: str,
    wanted: tuple[str, ...],
    *,
    values: FirmValues,
) -> float:
    row = _component_row(components, fibre_class, quantity, grade, wanted, values=values)
    return NOTHING if row is None else float(row["value"])


@cached_by_values
def _component_row(
    components: tuple[str, ...],
    fibre_class: str,
    quantity: str,
    grade: str,
    wanted: tuple[str, ...],
    *,
    values: FirmValues,
) -> dict[str, Any] | None:
    """Return the winner for this mode, else for any mode; a wanted choice of either goes before a default."""
    table = [row for row in rows("component_losses", values=values) if row["component"] in components]
    for column, value in (("quantity", quantity), ("grade", grade)):
        _must_be_known(column, value, (row[column] for row in table))
    modes = counts_as(fibre_class, values=values) or ("",)
    for component in components:
        group = [
            row
            for mode in reversed(modes)  # the nearest last: `pick` lets the last win
            for row in table
            if (row["component"], row["mode"], row["grade"], row["quantity"]) == (component, mode, grade, quantity)
        ]
        winner = pick(group, wanted)
        if winner is not None:
            return winner
    return None


def _must_be_known(column: str, value: str, known: Iterable[str]) -> None:
    names = sorted(set(known))
    if value not in names:
        raise ValueSourceError(f"Unknown {column} {value!r}. Known: {', '.join(repr(n) for n in names)}.")
