"""What paths or stretches lose, as it is told: by basis, with what lacks a figure."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from fibrebook.losses.by_tests.chosen import Chosen

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
TINY_M = 1e-6  # less than that is rounding of sums, not fibre


class PathLosses(NamedTuple):
    """Losses [dB] of paths or stretches, one row each.

    A part that has no figure counts as nothing, and the row is flagged: the loss is then *at least* that.

    by_basis_db : shape (n, 3), in the order of `elements.BASES`; mismatch and fibre are in the catalogue's share,
        what a test tells is in the share of what was measured
    fibre_db, mismatch_db : what the fibre, and what unlike cores that meet, have in it
    no_length : a cable has no length; no_class : a core has no fibre class; no_attenuation : a fibre that has both has
        no published figure at this wavelength; what a test tells lacks nothing
    tests : those that tell a part of them, records_db : what the records say of the whole; None = by the records alone
    """

    by_basis_db: Floats
    fibre_db: Floats
    mismatch_db: Floats
    no_length: Flags
    no_class: Flags
    no_attenuation: Flags
    tests: Chosen | None = None
    records_db: Floats | None = None

    @property
    def loss_db(self) -> Floats:
        """The whole loss of each, as far as it is known."""
        return np.asarray(self.by_basis_db.sum(axis=1))

    @property
    def by_records_db(self) -> Floats:
        """What each would lose as if nothing had been tested."""
        return self.loss_db if self.records_db is None else self.records_db

    @property
    def by_tests_db(self) -> Floats:
        """The whole loss where a test tells a part of it, NaN elsewhere."""
        out = np.full(len(self.fibre_db), np.nan)
        if self.tests is not None:
            out[self.tests.beam] = self.loss_db[self.tests.beam]
        return out

    @property
    def at_least(self) -> Flags:
        """Whether a part of each has no figure."""
        return self.no_length | self.no_class | self.no_attenuation
