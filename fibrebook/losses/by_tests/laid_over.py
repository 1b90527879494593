"""Tests laid over the records: what paths lose where a test tells a stretch, and their records the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from fibrebook.losses.by_tests.chosen import Chosen
from fibrebook.losses.by_tests.counted import CountedTests
from fibrebook.losses.elements import BASES, CATALOGUE, MEASURED
from fibrebook.losses.path_losses import TINY_M, PathLosses
from fibrebook.records.references.labels_as_numbers import Ints

if TYPE_CHECKING:
    from fibrebook.losses.table import LossTable

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


def laid_over(
    table: LossTable, counted: CountedTests, records: PathLosses, chosen: Chosen, path: Ints, forward: Flags,
    wavelength_nm: Floats, grade: str,
) -> PathLosses:  # fmt: skip
    """Return losses of whole paths with the figures of tests in place of those of their stretches.

    Parameters
    ----------
    records : what the records say of the paths; chosen : the tests that count on them
    path, forward, wavelength_nm, grade : the paths asked for, as `LossTable.of_paths` has them
    """
    told = chosen.only(np.flatnonzero(~chosen.stands))
    if not len(told.beam):
        return records._replace(tests=chosen, records_db=records.loss_db)
    t, running, n = counted.columns, table.running, len(path)
    first, last, beam = t.first[told.test], t.last[told.test], told.beam

    def summed(each: Floats) -> Floats:
        return np.bincount(beam, each, n).astype(np.float64)

    inner = counted.losses.of_stretches(first, last, forward[beam], wavelength_nm[beam])
    metres = np.stack([summed(m[last] - m[first]) for m in running.metres], axis=1)
    metres = np.where(table.metres(path) - metres > TINY_M, table.metres(path) - metres, 0.0)
    fibre_db, no_attenuation = table.fibre_db(metres, wavelength_nm, grade)
    mismatch_db = _rest(records.mismatch_db - summed(inner.mismatch_db))
    fixed_db = table.fixed_db(path)
    for basis in range(len(BASES)):
        inside = running.splices_db[basis][last] - running.splices_db[basis][first]
        inside += running.connections_db[basis][last] - running.connections_db[basis][first + 1]
        fixed_db[:, basis] -= summed(inside)
    for place, held in ((first, t.at_first[told.test]), (last, t.at_last[told.test])):
        end = counted.end_at(place[held])
        np.subtract.at(fixed_db, (beam[held], end.basis), end.connection_db)
    shares = _rest(fixed_db)
    shares[:, CATALOGUE] += fibre_db + mismatch_db
    shares[:, MEASURED] += summed(told.loss_db)
    lacking = [
        count - summed(inside[last] - inside[first]) > 0.5
        for count, inside in zip(table.cores_lacking(path), (running.no_length, running.no_class), strict=True)
    ]
    mine = np.zeros(n, bool)
    mine[beam] = True
    one = mine[:, None]
    return PathLosses(
        np.where(one, shares, records.by_basis_db),
        np.where(mine, fibre_db, records.fibre_db),
        np.where(mine, mismatch_db, records.mismatch_db),
        np.where(mine, lacking[0], records.no_length),
        np.where(mine, lacking[1], records.no_class),
        np.where(mine, no_attenuation, records.no_attenuation),
        chosen,
        records.loss_db,
    )


def _rest(of_db: Floats) -> Floats:
    """What is left of a sum, without the dust of its rounding."""
    return np.where(np.abs(of_db) < 1e-9, 0.0, of_db)
