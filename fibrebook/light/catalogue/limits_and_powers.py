"""Applications (1000BASE-LX, 10GBASE-SR...): their names, wavelengths, limits by fibre class and powers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from fibrebook.errors import ValueSourceError
from fibrebook.light.catalogue.look_up_once import per_kind
from fibrebook.reference.choices import Choice, pick, preference
from fibrebook.reference.fibres import counts_as
from fibrebook.reference.firm import PUBLISHED, FirmValues
from fibrebook.reference.tables import cached_by_values, how_known, rows
from fibrebook.words.nearest import did_you_mean

NOTHING = float("nan")
SAME_NM = 10.0  # two wavelengths nearer than this are one window (1300 and 1310 nm)
POWERS = ("launch_min_dbm", "launch_max_dbm", "receive_min_dbm", "receive_max_dbm", "damage_dbm")


@dataclass(frozen=True, slots=True)
class Application:
    """One application as its standard defines it; powers are those of its poorest fibre, NaN where not published."""

    name: str
    aliases: tuple[str, ...]
    family: str  # whose limits and powers it shares: 1000BASE-BX10 for -D and -U, else its own name
    standard: str  # "IEEE 802.3", or "none" where makers differ
    fibres: int  # of the cable, for both directions together
    lanes: int  # parallel or wavelength lanes in one direction
    modes: tuple[str, ...]  # multimode, single-mode
    wavelengths_nm: tuple[float, ...]  # sent
    receive_wavelengths_nm: tuple[float, ...]
    wavelengths_are: str  # "lanes" (all in one direction), "directions" (one for each), "" (a single one)
    launch_min_dbm: float
    launch_max_dbm: float
    receive_min_dbm: float
    receive_max_dbm: float
    damage_dbm: float
    source: str
    basis: str

    @property
    def all_wavelengths_nm(self) -> tuple[float, ...]:
        """Return every wavelength that runs on the channel, in either direction, each once."""
        return tuple(dict.fromkeys((*self.wavelengths_nm, *self.receive_wavelengths_nm)))


class Limits(NamedTuple):
    """What an application allows its channel; one entry an application and fibre class, NaN (source "") = none."""

    insertion_loss_max_db: np.ndarray
    length_max_m: np.ndarray
    penalty_db: np.ndarray  # of the power budget, kept for dispersion and noise
    source: np.ndarray


class Powers(NamedTuple):
    """Average powers of an application on a fibre class [dBm], each lane for itself; NaN = not published."""

    launch_min_dbm: np.ndarray
    launch_max_dbm: np.ndarray
    receive_min_dbm: np.ndarray
    receive_max_dbm: np.ndarray
    damage_dbm: np.ndarray


def applications(*, values: FirmValues = PUBLISHED) -> list[str]:
    """Return the names of all known applications."""
    return [row["application"] for row in rows("applications", values=values)]


def application_name(text: object, *, values: FirmValues = PUBLISHED) -> str | None:
    """Return the one name of an application for any spelling (1000Base-LX, 10g sr), or None if it is not known."""
    return _names(values=values).get(_squashed(text))


def application(name: str, *, values: FirmValues = PUBLISHED) -> Application:
    """Return one application; any spelling is understood. Unknown: ValueSourceError that names the nearest."""
    known = application_name(name, values=values)
    if known is None:
        raise ValueSourceError(f"unknown application {name!r}; {did_you_mean(str(name), applications(values=values))}")
    return _application(known, values=values)


def limits(
    application: Any,
    fibre_class: Any,
    wavelength_nm: ArrayLike | None = None,
    choice: Choice = None,
    *,
    values: FirmValues = PUBLISHED,
) -> Limits:
    """Return insertion loss [dB] and length [m] that applications allow on fibre classes.

    Parameters
    ----------
    application, fibre_class : names or arrays of names, any spelling; they broadcast.
    wavelength_nm : where the directions differ (1000BASE-BX10), the one that is asked for; None or NaN = the stricter.
    choice : whose figures go before where sources differ; default the stricter.

    Returns
    -------
    Limits of arrays, shape (n,); NaN and source "" where the application is not specified on that class (or wavelength)
    or either name is unknown.
    """
    wanted = preference(choice, values=values)

    def look_up(name: str | None, fibre: str | None, wavelength: float) -> tuple[float, float, float, str]:
        return _limit(application_name(name or "", values=values) or "", fibre or "", wavelength, wanted, values=values)

    look_up.answers = 4  # type: ignore[attr-defined]
    at = NOTHING if wavelength_nm is None else np.asarray(wavelength_nm, float)
    return Limits(*per_kind(look_up, application, fibre_class, at))


def powers(application: Any, fibre_class: Any = "", *, values: FirmValues = PUBLISHED) -> Powers:
    """Return the average powers [dBm] of applications on fibre classes, shape (n,); NaN where not published.

    A blank fibre class gives the poorest fibre's figures: least launch, greatest need.
    """

    def look_up(name: str | None, fibre: str | None) -> tuple[float, ...]:
        return _powers(application_name(name or "", values=values) or "", fibre or "", values=values)

    look_up.answers = 5  # type: ignore[attr-defined]
    return Powers(*per_kind(look_up, application, fibre_class))


@cached_by_values
def _application(name: str, *, values: FirmValues) -> Application:
    row = _by_name(values=values)[name]
    return Application(
        name=name,
        aliases=_parts(row["aliases"]),
        family=row["family"] or name,
        standard=row["standard"],
        fibres=row["fibres"],
        lanes=row["lanes"],
        modes=_parts(row["mode"]),
        wavelengths_nm=tuple(map(float, _parts(row["wavelengths_nm"]))),
        receive_wavelengths_nm=tuple(map(float, _parts(row["receive_wavelengths_nm"]))),
        wavelengths_are=row["wavelengths_are"],
        **dict(zip(POWERS, _powers(name, "", values=values), strict=True)),
        source=row["source"],
        basis=how_known(row),
    )


@cached_by_values
def _limit(
    name: str, fibre: str, wavelength_nm: float, wanted: tuple[str, ...], *, values: FirmValues
) -> tuple[float, float, float, str]:
    found = _nearest("application_limits", "fibre_class", name, fibre, values=values)
    groups: dict[float | None, list[dict[str, Any]]] = {}
    for row in found:
        at = row["wavelength_nm"]
        if at is None or np.isnan(wavelength_nm) or abs(at - wavelength_nm) <= SAME_NM:
            groups.setdefault(at, []).append(row)
    picked = (pick(group, wanted) for group in groups.values())
    winners = [row for row in picked if row is not None]
    if not winners:
        return NOTHING, NOTHING, NOTHING, ""
    strictest = min(winners, key=lambda row: row["insertion_loss_max_db"])
    length = min(row["length_max_m"] for row in winners)
    return (
        _float(strictest["insertion_loss_max_db"]),
        _float(length),
        _float(strictest["penalty_db"]),
        f"{strictest['source']} ({how_known(strictest)})",
    )


@cached_by_values
def _powers(name: str, fibre: str, *, values: FirmValues) -> tuple[float, ...]:
    if fibre:
        found = _nearest("application_powers", "fibre", name, fibre, values=values)
    else:
        family = _family(name, values=values)
        found = [row for row in rows("application_powers", values=values) if row["application"] == family]
    if not found:
        return (NOTHING,) * len(POWERS)
    return tuple(_poorest(column, [row[column] for row in found]) for column in POWERS)


def _poorest(column: str, values: list[float | None]) -> float:
    """Return the least favourable of several fibres' figures: little launched, much needed, little borne."""
    given = [v for v in values if v is not None]
    worst = max if column in ("launch_max_dbm", "receive_min_dbm") else min
    return float(worst(given)) if given else NOTHING


def _nearest(table_name: str, column: str, name: str, fibre: str, *, values: FirmValues) -> list[dict[str, Any]]:
    """Return the rows of an application on the nearest of the names that this fibre class counts as."""
    family = _family(name, values=values)
    mine = [row for row in rows(table_name, values=values) if name and row["application"] == family]
    modes = _parts(_by_name(values=values)[name]["mode"]) if name else ()
    names = counts_as(fibre, values=values)
    if not set(modes) & set(names):  # multimode light on single-mode fibre, or the reverse
        return []
    for known in names:
        found = [row for row in mine if row[column] == known]
        if found:
            return found
    return []


def _family(name: str, *, values: FirmValues) -> str:
    return (_by_name(values=values)[name]["family"] or name) if name else ""


def _float(value: float | None) -> float:
    return NOTHING if value is None else float(value)


def _parts(text: str) -> tuple[str, ...]:
    return tuple(p.strip() for p in text.split(";") if p.strip())


def _squashed(text: object) -> str:
    return re.sub(r"[^0-9a-z]+", "", str(text).casefold())


@cached_by_values
def _by_name(*, values: FirmValues) -> dict[str, dict[str, Any]]:
    return {row["application"]: row for row in rows("applications", values=values)}


@cached_by_values
def _names(*, values: FirmValues) -> dict[str, str]:
    found: dict[str, str] = {}
    for row in rows("applications", values=values):
        for name in (row["application"], *_parts(row["aliases"])):
            if found.setdefault(_squashed(name), row["application"]) != row["application"]:
                raise ValueSourceError(
                    f"{row['file']}, line {row['line']}: {name!r} already means {found[_squashed(name)]}."
                )
    return found
