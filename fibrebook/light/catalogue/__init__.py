"""Published values for whole arrays of fibre classes, wavelengths and applications.

In come arrays of classes and wavelengths; out go losses, limits and powers, each with its source.
It knows the reference tables only, no record and no formula of physics.
"""

from __future__ import annotations

from fibrebook.light.catalogue.fibre_losses import (
    attenuation_db_per_km,
    attenuation_source,
    connection_db,
    joint_source,
    no_attenuation_because,
    splice_db,
)
from fibrebook.light.catalogue.limits_and_powers import (
    Application,
    Limits,
    Powers,
    application,
    application_name,
    applications,
    limits,
    powers,
)

__all__ = [
    "Application",
    "Limits",
    "Powers",
    "application",
    "application_name",
    "applications",
    "attenuation_db_per_km",
    "attenuation_source",
    "connection_db",
    "joint_source",
    "limits",
    "no_attenuation_because",
    "powers",
    "splice_db",
]
