"""The limit of a loss test by two standards: fibre, inner connections and splices, and the ends that are counted."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from fibrebook.errors import ValueSourceError
from fibrebook.light.catalogue import connection_db
from fibrebook.light.catalogue.look_up_once import per_kind
from fibrebook.light.possible import number
from fibrebook.reference.firm import PUBLISHED, FirmValues

# End connections that the reference leaves in the result (IEC 61280-4-1 and -4-2; ISO/IEC 14763-3; memory).
ENDS_COUNTED = {"one-cord": 2, "two-cord": 1, "three-cord": 0}
STYLES = ("ISO/IEC 14763-3", "TIA-568.3")
QUANTITY = {"ISO/IEC 14763-3": "97 %", "TIA-568.3": "limit"}


def end_connection_db(
    style: str, cord_grade: Any, mode: Any, *, values: FirmValues = PUBLISHED
) -> npt.NDArray[np.float64]:
    """Return what the connection at a tested end may lose [dB].

    Parameters
    ----------
    style : "ISO/IEC 14763-3": reference-grade test cords are taken for granted; "TIA-568.3": only where said
    cord_grade : "reference", "standard" or blank; mode : multimode or single-mode; arrays broadcast
    """
    if style not in STYLES:
        raise ValueSourceError(f"there is no acceptance style {style!r}; there are {' and '.join(STYLES)}")

    def look_up(grade: str | None, one_mode: str | None) -> tuple[float]:
        reference = grade == "reference" or (not grade and style == STYLES[0])
        fibre = {"multimode": "OM3", "single-mode": "OS2"}.get(one_mode or "", "")
        if not reference or not fibre:
            return (float(connection_db(values=values)),)
        return (float(connection_db(fibre, QUANTITY[style], "reference to standard", values=values)),)

    return np.asarray(per_kind(look_up, cord_grade, mode)[0], np.float64)


def acceptance_limit_db(
    length_m: float,
    attenuation_db_per_km: float,
    inner_connections: int = 0,
    splices: int = 0,
    reference_method: str = "one-cord",
    style: str = STYLES[0],
    mode: str = "single-mode",
    cord_grade: str = "",
    *,
    values: FirmValues = PUBLISHED,
) -> float:
    """Return the most a loss test of one link may show [dB].

    limit = L a + inner connections x 0.75 + splices x 0.3 + ends counted x end connection
    (TIA-568.3-D; ISO/IEC 14763-3), the figures from the reference tables.
    """
    from fibrebook.light.catalogue import splice_db

    if reference_method not in ENDS_COUNTED:
        raise ValueSourceError(f"unknown reference method {reference_method!r}; there are {', '.join(ENDS_COUNTED)}")
    fibre_db = number("length_m", length_m, 0) * number("attenuation_db_per_km", attenuation_db_per_km, 0) / 1000.0
    joints_db = inner_connections * float(connection_db(values=values)) + splices * float(splice_db(values=values))
    ends_db = ENDS_COUNTED[reference_method] * float(end_connection_db(style, cord_grade, mode, values=values)[0])
    return float(fibre_db + joints_db + ends_db)
