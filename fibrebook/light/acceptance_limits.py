"""The limit of a loss test by two standards: fibre, inner connections and splices, and the ends that are counted."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from fibrebook.errors import ValueSourceError
from fibrebook.light.catalogue import connection_db, joint_source
from fibrebook.light.catalogue.editions import NAMES, acceptance_edition, standard_of
from fibrebook.light.catalogue.look_up_once import per_kind
from fibrebook.light.possible import number
from fibrebook.reference.choices import names
from fibrebook.reference.firm import PUBLISHED, FirmValues

# End connections that the reference leaves in the result (IEC 61280-4-1 and -4-2; ISO/IEC 14763-3; memory).
ENDS_COUNTED = {"one-cord": 2, "two-cord": 1, "three-cord": 0}
DEFAULT = NAMES[0]
QUANTITY = {"ISO/IEC 14763-3": "97 %", "TIA-568.3": "limit"}


class EndLosses(NamedTuple):
    """What the connection at a tested end may lose [dB], and where that stands and how it is known ("" for NaN)."""

    loss_db: npt.NDArray[np.float64]
    source: npt.NDArray[np.object_]


def end_connections(style: str, cord_grade: Any, mode: Any, *, values: FirmValues = PUBLISHED) -> EndLosses:
    """Return what the connection at a tested end may lose, and where that stands.

    Parameters
    ----------
    style : a standard or an edition of it (`editions.NAMES`). By ISO/IEC 14763-3 reference-grade test cords are taken
        for granted, by TIA-568.3 only where said. A firm's own figure goes before the published ones.
    cord_grade : "reference", "standard" or blank; mode : multimode or single-mode; arrays broadcast
    """
    edition = acceptance_edition(style, values=values)
    standard = standard_of(edition)
    published = names("component_losses")
    own = [row["choice"] for row in values.rows.get("component_losses", ()) if row["choice"] not in published]
    choice = (*dict.fromkeys(own), edition)

    def look_up(grade: str | None, one_mode: str | None) -> tuple[float, str]:
        reference = grade == "reference" or (not grade and standard == "ISO/IEC 14763-3")
        fibre = {"multimode": "OM3", "single-mode": "OS2"}.get(one_mode or "", "")
        if not reference or not fibre:
            return float(connection_db(values=values)), joint_source("connection", values=values)
        asked = QUANTITY[standard], "reference to standard", choice
        loss_db = float(connection_db(fibre, *asked, values=values))
        return loss_db, joint_source("connection", fibre, *asked, values=values)

    look_up.answers = 2  # type: ignore[attr-defined]
    found = per_kind(look_up, cord_grade, mode)
    return EndLosses(np.asarray(found[0], np.float64), np.asarray(found[1], object))


def acceptance_limit_db(
    length_m: float,
    attenuation_db_per_km: float,
    inner_connections: int = 0,
    splices: int = 0,
    reference_method: str = "one-cord",
    style: str = DEFAULT,
    mode: str = "single-mode",
    cord_grade: str = "",
    *,
    values: FirmValues = PUBLISHED,
) -> float:
    """Return the most a loss test of one link may show [dB].

    limit = L a + inner connections x 0.75 + splices x 0.3 + ends counted x end connection
    (TIA-568.3; ISO/IEC 14763-3), the figures from the reference tables. style : a standard or an edition of it.
    """
    from fibrebook.light.catalogue import splice_db

    if reference_method not in ENDS_COUNTED:
        raise ValueSourceError(f"unknown reference method {reference_method!r}; there are {', '.join(ENDS_COUNTED)}")
    fibre_db = number("length_m", length_m, 0) * number("attenuation_db_per_km", attenuation_db_per_km, 0) / 1000.0
    joints_db = inner_connections * float(connection_db(values=values)) + splices * float(splice_db(values=values))
    ends_db = ENDS_COUNTED[reference_method] * float(end_connections(style, cord_grade, mode, values=values).loss_db[0])
    return float(fibre_db + joints_db + ends_db)
