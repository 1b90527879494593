"""The light: what fibre, connections and splices lose, and whether an application still gets through.

The plain functions are here (`loss_db`, `headroom_db`, `reach_m`, and the physics of joints); `light.catalogue`
looks up published values for arrays of fibre classes, wavelengths and applications.
"""

from __future__ import annotations

from fibrebook.light.formulas import (
    fresnel_db,
    gap_db,
    headroom_db,
    joint_db,
    loss_db,
    mode_field_mismatch_db,
    mode_field_of_core_um,
    offset_db,
    reach_m,
    reflectance_db,
    tilt_db,
)
from fibrebook.light.multimode import (
    multimode_aperture_mismatch_db,
    multimode_core_mismatch_db,
    multimode_gap_db,
    multimode_graded_offset_db,
    multimode_offset_db,
    multimode_tilt_db,
)

__all__ = [
    "fresnel_db",
    "gap_db",
    "headroom_db",
    "joint_db",
    "loss_db",
    "mode_field_mismatch_db",
    "mode_field_of_core_um",
    "multimode_aperture_mismatch_db",
    "multimode_core_mismatch_db",
    "multimode_gap_db",
    "multimode_graded_offset_db",
    "multimode_offset_db",
    "multimode_tilt_db",
    "offset_db",
    "reach_m",
    "reflectance_db",
    "tilt_db",
]
