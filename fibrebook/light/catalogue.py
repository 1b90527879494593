"""Published values for whole arrays: the public face of fibre_losses and applications."""

from __future__ import annotations

from fibrebook.light.applications import (
    Application,
    Limits,
    Powers,
    application,
    application_name,
    applications,
    limits,
    powers,
)
from fibrebook.light.fibre_losses import (
    attenuation_db_per_km,
    attenuation_source,
    connection_db,
    joint_source,
    no_attenuation_because,
    splice_db,
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
