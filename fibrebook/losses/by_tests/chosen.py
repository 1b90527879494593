"""Which tests count on each path, for a wavelength and a direction, and what they say is lost there.

Of one stretch the test of this very wavelength and direction, else the other way, else at another wavelength, carried
over. Of stretches that overlap the longest; but one that failed, and is not older than the longer, is not passed over:
it binds until somebody tests again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from fibrebook.losses.by_tests.counted import Columns, CountedTests
from fibrebook.records.references.labels_as_numbers import Ints

if TYPE_CHECKING:
    from fibrebook.losses.path_losses import PathLosses

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
TIE_DB = 1e-9


class Chosen(NamedTuple):
    """One row a test that counts on a path asked for, in the order of the paths asked for and of the light's string.

    beam : which of those asked for; test : row of `CountedTests.columns`
    loss_db : what it says is lost; over_db : how much more that is than the records say, never less than 0 if it failed
    carried : it was made at another wavelength or the other way; other_way : the other way
    stands : it failed, and yet the records say that more is lost: their figures stay
    """

    beam: Ints
    test: Ints
    loss_db: Floats
    over_db: Floats
    carried: Flags
    other_way: Flags
    stands: Flags

    def only(self, which: npt.NDArray[np.generic]) -> Chosen:
        """Some of them."""
        return Chosen(*(column[which] for column in self))


def chosen_tests(counted: CountedTests, path: Ints, forward: Flags, wavelength_nm: Floats) -> Chosen:
    """Choose the tests that count on paths.

    Parameters
    ----------
    path : labels, shape (n,); forward : whether the light goes with the order of the string; wavelength_nm : [nm]
    """
    found = _of_stretches(counted, *_every_one(counted, path), forward, wavelength_nm)
    return _without_overlap(counted.columns, found, len(path))


def _every_one(counted: CountedTests, path: Ints) -> tuple[Ints, Ints]:
    """Every pair of a path asked for and a test on it."""
    first, count = (column[path] for column in counted.on_path)
    beam = np.repeat(np.arange(len(path)), count)
    return beam, np.arange(len(beam)) + np.repeat(first - (np.cumsum(count) - count), count)


def _of_stretches(counted: CountedTests, beam: Ints, test: Ints, forward: Flags, wavelength_nm: Floats) -> Chosen:
    """The test that tells each stretch's loss: of this wavelength, either way, else the worst of the rest."""
    t = counted.columns
    same_nm = t.wavelength_nm[test] == wavelength_nm[beam]
    other_way = t.forward[test] != forward[beam]
    carried = ~same_nm | other_way
    here = counted.losses.of_stretches(t.first[test], t.last[test], forward[beam], wavelength_nm[beam])
    loss_db = np.where(carried, carried_db(t, test, here), t.loss_db[test])
    over_db = loss_db - (t.records_db[test] - t.fibre_db[test] - t.mismatch_db[test] + here.fibre_db + here.mismatch_db)
    # what has no figure cannot be weighed anew at another wavelength
    fit = same_nm | ~(t.lacks[test] | here.at_least)
    stands = t.failed[test] & (over_db < 0)
    found = Chosen(beam, test, loss_db, np.where(stands, 0.0, over_db), carried, other_way, stands)
    found = found.only(np.flatnonzero(fit))
    stretch = t.stretch[found.test]
    # the other way before another wavelength: fibre loses alike both ways
    far = found.carried.astype(np.int64) + (t.wavelength_nm[found.test] != wavelength_nm[found.beam])
    order = np.lexsort((-found.loss_db, far, stretch, found.beam))
    found, stretch = found.only(order), stretch[order]
    new = np.ones(len(order), bool)
    new[1:] = (found.beam[1:] != found.beam[:-1]) | (stretch[1:] != stretch[:-1])
    return found.only(np.flatnonzero(new))


def carried_db(t: Columns, test: Ints, here: PathLosses) -> Floats:
    """Return what tests say of their stretch at another wavelength or the other way [dB].

    Their excess over the records is carried, fibre and unlike cores are weighed anew. What they lose less than the
    records say is carried only so far as it is sure: it may all lie in what loses less here in any case.
    """
    fibre_db, mismatch_db = t.fibre_db[test], t.mismatch_db[test]
    less_fibre_db = np.maximum(fibre_db - here.fibre_db, 0.0)
    less_mismatch_db = np.maximum(mismatch_db - here.mismatch_db, 0.0)
    share = np.maximum(_share(less_fibre_db, fibre_db), _share(less_mismatch_db, mismatch_db))
    saved_db = np.maximum(t.records_db[test] - t.loss_db[test], 0.0)
    unsure_db = np.minimum(less_fibre_db + less_mismatch_db, saved_db * share)
    other_db = here.fibre_db - fibre_db + here.mismatch_db - mismatch_db
    told_db: Floats = np.maximum(t.loss_db[test] + other_db + unsure_db, 0.0)
    return told_db


def _share(part: Floats, whole: Floats) -> Floats:
    return np.asarray(np.divide(part, whole, out=np.zeros(len(part)), where=whole > 0))


def _without_overlap(t: Columns, found: Chosen, beams: int) -> Chosen:
    """Of those that overlap the longest; or one that failed, in place of those it overlaps, where more is lost so."""
    first, last = t.first[found.test], t.last[found.test]
    order = np.lexsort((first, first - last, -t.length_m[found.test], found.beam))
    found, first, last = found.only(order), first[order], last[order]
    beam = found.beam
    takes, left = np.zeros(len(beam), bool), np.ones(len(beam), bool)
    failed, day = t.failed[found.test], t.day[found.test]
    overlapped_db, binds = np.zeros(len(beam)), np.zeros(len(beam), bool)
    while left.any():
        at = np.flatnonzero(left)
        longest = at[np.unique(beam[at], return_index=True)[1]]
        takes[longest] = True
        meets, by = _meets(beam, first, last, longest, beams)
        left &= ~meets
        meets[longest] = False
        overlapped_db += np.where(meets, found.over_db[by], 0.0)
        binds |= meets & failed & (day >= day[by])
    # with those taken that it does not overlap
    worse_db = np.where(binds, found.over_db - overlapped_db, 0.0)
    order = np.lexsort((-worse_db, beam))
    worst = order[np.unique(beam[order], return_index=True)[1]]
    worst = worst[worse_db[worst] > TIE_DB]
    takes &= ~_meets(beam, first, last, worst, beams)[0]
    takes[worst] = True
    at = np.flatnonzero(takes)
    return found.only(at[np.lexsort((first[at], beam[at]))])


def _meets(beam: Ints, first: Ints, last: Ints, by: Ints, beams: int) -> tuple[Flags, Ints]:
    """Which overlap one of some rows, at most one of each beam, and which that is (-1: none of that beam)."""
    of = np.full(beams, -1, np.int64)
    of[beam[by]] = by
    other = of[beam]
    return (other >= 0) & (first <= last[other]) & (last >= first[other]), other
