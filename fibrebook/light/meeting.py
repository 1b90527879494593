"""What two fibres can do at best where they meet: in words, for advice before anybody splices."""

from __future__ import annotations

from typing import NamedTuple

from fibrebook.errors import ValueSourceError
from fibrebook.light.formulas import mode_field_mismatch_db
from fibrebook.light.multimode import PESSIMISTIC, multimode_aperture_mismatch_db, multimode_core_mismatch_db
from fibrebook.reference.fibres import aperture_of, core_um_of, fibre_class, mode_field_um_of, mode_of
from fibrebook.reference.firm import PUBLISHED, FirmValues

LARGE_DB = 0.2  # a mismatch worth a word; common practice, no source


class Meeting(NamedTuple):
    """The least a perfect joint of two fibres loses each way [dB], NaN where it cannot be told; and in words."""

    one_to_other_db: float
    other_to_one_db: float
    words: str


def meeting(
    one: str,
    other: str,
    one_mode_field_um: float | None = None,
    other_mode_field_um: float | None = None,
    *,
    values: FirmValues = PUBLISHED,
) -> Meeting:
    """Return what a joint of two fibre classes loses by their difference alone.

    Multimode: core and numerical aperture, all modes filled (Senior, ch. 5), which is the most a real launch loses.
    Single-mode: mode fields (Marcuse 1977), nominal or as given [um], alike both ways. One of each: single-mode into
    multimode loses next to nothing, the other way nearly all.
    """
    names = [fibre_class(n, values=values) for n in (one, other)]
    for name, asked in zip(names, (one, other), strict=True):
        if name is None:
            raise ValueSourceError(f"fibre class {asked!r} is not known")
    modes = [mode_of(n, values=values) for n in names]
    if modes[0] != modes[1]:
        single = one if modes[0] == "single-mode" else other
        many = other if single == one else one
        words = f"{many} into {single} loses nearly all light; {single} into {many} next to none, but it is no channel"
        lost = float("nan")
        return Meeting(0.0 if single == one else lost, lost if single == one else 0.0, words)
    if modes[0] == "multimode":
        return _multimode(one, other, values=values)
    fields = (
        one_mode_field_um or mode_field_um_of(one, values=values),
        other_mode_field_um or mode_field_um_of(other, values=values),
    )
    if None in fields:
        return Meeting(float("nan"), float("nan"), "the mode field of one is not known: take it from its data sheet")
    lost = float(mode_field_mismatch_db(*fields))  # type: ignore[arg-type]
    pair = f"mode fields of {fields[0]:g} and {fields[1]:g} um"
    words = f"{pair} differ by {lost:.3f} dB"
    if lost >= LARGE_DB:
        words = f"{pair}: these two cannot be joined better than {lost:.2f} dB"
    if lost > 0.005:
        words += "; an OTDR reads too much one way and too little, or a gain, the other: take the mean of both"
    return Meeting(lost, lost, words)


def _multimode(one: str, other: str, *, values: FirmValues) -> Meeting:
    cores, apertures = (
        (core_um_of(one, values=values), core_um_of(other, values=values)),
        (aperture_of(one, values=values), aperture_of(other, values=values)),
    )
    if None in cores or None in apertures:
        return Meeting(float("nan"), float("nan"), "the core or aperture of one is not known")

    def lost(i: int, j: int) -> float:
        core = float(multimode_core_mismatch_db(cores[i], cores[j]))  # type: ignore[arg-type]
        return core + float(multimode_aperture_mismatch_db(apertures[i], apertures[j]))  # type: ignore[arg-type]

    there, back = lost(0, 1), lost(1, 0)
    if there == back == 0:
        return Meeting(0.0, 0.0, "alike")
    big, small = (one, other) if there > back else (other, one)
    words = f"{big} into {small} loses up to {max(there, back):.1f} dB ({PESSIMISTIC}), {small} into {big} nothing"
    return Meeting(there, back, words)
