"""The values that hold for one firm: the published ones, its own rows and sources, and what it has chosen.

Kind `choices` holds: sources (whose figures go before where sources differ, parted by semicolons), margin_db (kept for
ageing and repair, default 0 dB), acceptance (a standard or an edition of it: `editions.NAMES`, the first is the
default), uncertainty_db (of a loss test whose own is not recorded), photo_details ("remove", the default, or "keep":
place, time and device that the camera wrote into photos; `register/photos.py` reads it). Kind `reference_values` holds
the firm's own rows of the reference tables.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import ArrayLike

from fibrebook.errors import ValueSourceError
from fibrebook.light.catalogue import editions, fibre_losses, limits_and_powers
from fibrebook.light.catalogue.firm_rows import bad_rows, firm_problems
from fibrebook.light.catalogue.limits_and_powers import Application, Limits, Powers
from fibrebook.reference import choices, tables
from fibrebook.reference.firm import PUBLISHED, FirmValues
from fibrebook.register.row_files.cores import codes_in

FIRM_TABLES = ("choices", "reference_values", "colour_codes")


@dataclass(frozen=True)
class Values(FirmValues):
    """Published and firm's values as one object: every look-up is a method, and nothing is ambient.

    margin_db : taken from every headroom; acceptance : by which standard or edition loss tests are judged;
    uncertainty_db : of a loss test whose own is not recorded, None = the usual one
    own_codes : the firm's own colour codes, code -> colours
    """

    margin_db: float = 0.0
    acceptance: str = editions.NAMES[0]
    uncertainty_db: float | None = None
    own_codes: Mapping[str, list[str]] = field(default_factory=dict, compare=False)

    @classmethod
    def published(cls) -> Values:
        """Return what holds where no register is at hand."""
        return cls(kept=PUBLISHED.kept)

    @classmethod
    def of(cls, found: Mapping[str, pa.Table]) -> Values:
        """Return a firm's values from its tables `choices`, `reference_values` and `colour_codes`.

        A row or choice that no table can take (`firm_problems`) is in none of them: it is refused when it is committed,
        and told as advice where it stands from former times.
        """
        firm = {kind: found[kind] for kind in FIRM_TABLES if kind in found}
        problems = firm_problems(firm)
        own = _own_rows(firm, bad_rows(problems, "reference_values"))
        wrong = bad_rows(problems, "choices")
        said = {
            row["choice"]: row["value"] or ""
            for row in (firm["choices"].to_pylist() if "choices" in firm else ())
            if row["choice"] not in wrong
        }
        sources = tuple(s.strip() for s in said.get("sources", "").split(";") if s.strip())
        token = hashlib.sha256(repr((own, sources)).encode()).hexdigest() if own or sources else ""
        return cls(
            token,
            own,
            sources,
            {} if token else PUBLISHED.kept,
            margin_db=_number(said, "margin_db") or 0.0,
            acceptance=said.get("acceptance") or editions.NAMES[0],
            uncertainty_db=_number(said, "uncertainty_db"),
            own_codes=codes_in(firm["colour_codes"]) if "colour_codes" in firm else {},
        )

    # --- applications ------------------------------------------------------------------------------------------------
    def applications(self) -> list[str]:
        """Return the names of all applications, the firm's own last: drop-downs, lists and `would_run` ask here."""
        return limits_and_powers.applications(values=self)

    def application_name(self, text: object) -> str | None:
        """Return the one name of an application for any spelling, or None if it is not known."""
        return limits_and_powers.application_name(text, values=self)

    def application(self, name: str) -> Application:
        """Return one application; any spelling is understood. Unknown: ValueSourceError that names the nearest."""
        return limits_and_powers.application(name, values=self)

    def limits(self, application: Any, fibre_class: Any, wavelength_nm: ArrayLike | None = None) -> Limits:
        """Return what applications allow on fibre classes (`light.catalogue.limits`)."""
        return limits_and_powers.limits(application, fibre_class, wavelength_nm, values=self)

    def powers(self, application: Any, fibre_class: Any = "") -> Powers:
        """Return the powers of applications on fibre classes (`light.catalogue.powers`)."""
        return limits_and_powers.powers(application, fibre_class, values=self)

    # --- fibre and joints --------------------------------------------------------------------------------------------
    def attenuation_db_per_km(self, fibre_class: Any, wavelength_nm: ArrayLike, grade: str = "maximum") -> np.ndarray:
        """Return the attenuation of fibre classes at wavelengths [dB/km] (`light.catalogue.attenuation_db_per_km`)."""
        return np.asarray(fibre_losses.attenuation_db_per_km(fibre_class, wavelength_nm, grade, values=self))

    def attenuation_source(self, fibre_class: Any, wavelength_nm: ArrayLike) -> np.ndarray:
        """Return where each attenuation was published, with its basis."""
        return fibre_losses.attenuation_source(fibre_class, wavelength_nm, values=self)

    def splice_db(self, method: str = "") -> float:
        """Return the most that a splice may lose [dB]."""
        return float(fibre_losses.splice_db(method, values=self))

    def connection_db(self, array: bool = False) -> float:
        """Return the most that a connection may lose [dB]."""
        return float(fibre_losses.connection_db(array=array, values=self))

    def joint_source(self, component: str, fibre_class: str = "", quantity: str = "limit", grade: str = "") -> str:
        """Return where the loss of a component was published, with its basis."""
        return fibre_losses.joint_source(component, fibre_class, quantity, grade, values=self)

    # --- practice ----------------------------------------------------------------------------------------------------
    def practice(self, name: str) -> float:
        """Return a value of the table `practice` (test uncertainty, slack at an enclosure...), the firm's own first."""
        found = [row for row in tables.rows("practice", values=self) if row["name"] == name]
        winner = choices.pick(found, choices.preference(None, values=self))
        if winner is None or winner["value"] is None:
            raise ValueSourceError(f"there is no value of practice {name!r}")
        return float(winner["value"])

    @property
    def acceptance_edition(self) -> str:
        """By which edition loss tests are judged: the one chosen, or of a standard chosen without one the newest."""
        return editions.acceptance_edition(self.acceptance, values=self)

    @property
    def test_uncertainty_db(self) -> float:
        """What a loss test whose own uncertainty is not recorded may be off [dB]: the firm's choice, else the usual."""
        return self.practice("test uncertainty") if self.uncertainty_db is None else self.uncertainty_db


def _own_rows(firm: Mapping[str, pa.Table], left_out: set[Any]) -> dict[str, list[dict[str, Any]]]:
    """The firm's rows by reference table, without those that their table cannot take."""
    own: dict[str, list[dict[str, Any]]] = {}
    given = firm["reference_values"].to_pylist() if "reference_values" in firm else []
    for number, row in enumerate(given, 1):
        if row["row"] in left_out:
            continue
        where = {"file": f"reference_values, row {row['row']}", "line": number}
        told = {k: v for k, v in row.items() if k not in ("row", "reference_table", "preferred_as", "notes")}
        ranked = {"choice": row["preferred_as"] or "the firm's own", "default": "yes"}
        own.setdefault(row["reference_table"], []).append(told | ranked | where)
    return own


def _number(said: Mapping[str, str], name: str) -> float | None:
    return float(said[name].replace(",", ".").removesuffix("dB")) if said.get(name) else None
