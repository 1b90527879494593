"""The one table of losses: every loss that anybody tells, kept in parts and summed by path, by stretch or by element.

The parts are metres of fibre by class, splices and connections by basis, and what is lost where unlike cores meet by
direction. Whole paths are summed in one pass over the arrays (`of_paths`), a stretch of a path is a difference of
running sums (`of_stretches`), one path is listed element by element (`along`). It is never multiplied out: nothing here
has the size of elements x wavelengths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from fibrebook.light.catalogue.values import Values
from fibrebook.losses.along import Part, parts_of
from fibrebook.losses.by_tests.chosen import chosen_tests
from fibrebook.losses.by_tests.counted import CountedTests
from fibrebook.losses.by_tests.laid_over import laid_over
from fibrebook.losses.elements import CATALOGUE, MEASURED, Elements
from fibrebook.losses.mismatch import Mismatches, mismatch_table, mismatches_of
from fibrebook.losses.not_known import not_known
from fibrebook.losses.path_losses import TINY_M, PathLosses
from fibrebook.losses.running_sums import RunningSums
from fibrebook.plant import Network
from fibrebook.plant.network import PATCH, SPLICE, TERMINATION
from fibrebook.plant.path_order import Strung
from fibrebook.plant.walk import Step
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.words.lists import both

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class LossTable:
    """Losses of a network. Paths are told by their label (a vertex of theirs), light goes away from it or to it."""

    net: Network
    values: Values = field(default_factory=Values.published)

    @cached_property
    def elements(self) -> Elements:
        """What each element loses."""
        return Elements(self.net, self.values)

    @property
    def class_names(self) -> list[str]:
        """Names of the fibre classes met; "" (no class recorded) stands first."""
        return self.elements.class_names

    @cached_property
    def strung(self) -> Strung:
        """The paths, each in order."""
        return Strung(self.net)

    # --- fibre -------------------------------------------------------------------------------------------------------
    @cached_property
    def fibre_parts(self) -> tuple[Ints, Floats]:
        """Every core and every cord on a path: path label x classes + class, and metres (NaN: not known)."""
        classes, net, e = len(self.class_names), self.net, self.elements
        is_cord = net.joints.what == PATCH
        cord, label = net.joints.row[is_cord], net.joint_path[is_cord]
        at = np.concatenate(
            [net.core_path * classes + e.cable_class[net.ends.core_cable], label * classes + e.cord_class[cord]]
        )
        return at, np.concatenate([e.core_length_m, e.cord_length_m[cord]])

    @cached_property
    def _metres(self) -> Floats:
        classes = len(self.class_names)
        at, metres = self.fibre_parts
        flat = np.bincount(at, np.nan_to_num(metres), self.net.n_vertices * classes).astype(np.float64)
        return flat.reshape(self.net.n_vertices, classes)

    def metres(self, path: Ints) -> Floats:
        """Metres of fibre of each class on paths, shape (n, classes); unknown lengths count as nothing."""
        return self._metres[path]

    @cached_property
    def _classes_on(self) -> Flags:
        flags = np.zeros((self.net.n_vertices, len(self.class_names)), bool)
        flags[self.net.core_path, self.elements.cable_class[self.net.ends.core_cable]] = True
        return flags

    def classes_on(self, path: Ints) -> Flags:
        """Whether cores of each class lie on paths, shape (n, classes): whose limits hold."""
        return self._classes_on[path]

    @cached_property
    def _cores_lacking(self) -> tuple[Ints, Ints]:
        unknown = np.isnan(self.elements.core_length_m), self.elements.cable_class[self.net.ends.core_cable] == 0
        length, klass = (np.bincount(self.net.core_path[u], minlength=self.net.n_vertices) for u in unknown)
        return length, klass

    def cores_lacking(self, path: Ints) -> tuple[Ints, Ints]:
        """How many cores on each path are of a cable without a length, and of one without a class."""
        length, klass = self._cores_lacking
        return length[path], klass[path]

    def db_per_km(self, wavelength_nm: float, grade: str = "maximum") -> Floats:
        """Published attenuation of each class at a wavelength [dB/km]; NaN where there is none."""
        names = self.class_names
        return self.values.attenuation_db_per_km(names, np.full(len(names), wavelength_nm), grade)

    def fibre_db(self, metres: Floats, wavelength_nm: Floats, grade: str = "maximum") -> tuple[Floats, Flags]:
        """Loss of metres of fibre by class, shape (n, classes), at a wavelength each, and whether some has no figure.

        Fibre that has no figure counts as nothing. A wavelength that is not known (NaN) has none.
        """
        out, lacks = np.zeros(len(metres)), np.zeros(len(metres), bool)
        wavelengths, nth = np.unique(wavelength_nm, return_inverse=True)
        for i, wavelength in enumerate(wavelengths.tolist()):
            at = np.flatnonzero(nth == i)
            per_km = self.db_per_km(wavelength, grade)
            # a class that is not on the path must not spoil it: 0 m x NaN
            out[at] = np.where(metres[at] > 0, metres[at] * np.nan_to_num(per_km) / 1000, 0.0).sum(axis=1)
            lacks[at] = ((metres[at] > 0) & np.isnan(per_km)).any(axis=1)
        return out, lacks

    # --- splices, connections, mismatch ------------------------------------------------------------------------------
    @cached_property
    def _fixed_db(self) -> Floats:
        """Loss of splices and connections by path label and basis, shape (vertices, 3)."""
        net, e, j = self.net, self.elements, self.net.joints
        of_splice, of_pigtail = j.what == SPLICE, j.what == TERMINATION
        port_label = net.paths.label[net.ends.first_plug : net.first_interface]
        parts = [
            (net.joint_path[of_splice], e.splices, j.row[of_splice]),
            (net.joint_path[of_pigtail], e.pigtail_splices, j.row[of_pigtail]),
            (port_label, e.connections, np.arange(net.ends.n_ports)),
        ]
        at = np.concatenate([label * 3 + losses.basis[row] for label, losses, row in parts])
        loss = np.concatenate([losses.loss_db[row] for _, losses, row in parts])
        return np.bincount(at, loss, 3 * net.n_vertices).astype(np.float64).reshape(-1, 3)

    def fixed_db(self, path: Ints) -> Floats:
        """Loss of splices and connections on paths by basis, shape (n, 3) [dB]."""
        return np.asarray(self._fixed_db[path])

    @cached_property
    def mismatch_between(self) -> Floats | None:
        """Loss from each class (row) into each (column) [dB]; None where no two of them differ."""
        return mismatch_table(self.class_names, values=self.values)

    @cached_property
    def mismatches(self) -> Mismatches | None:
        """Every place where unlike cores meet; None where none do."""
        if self.mismatch_between is None:
            return None
        e = self.elements
        measured = e.splices.basis == MEASURED
        return mismatches_of(self.net, self.strung, self.mismatch_between, e.cable_class, e.cord_class, measured)

    @cached_property
    def _mismatch_db(self) -> Floats:
        """By path label, shape (vertices, 2): light going away from the label, light going to it."""
        out = np.zeros((self.net.n_vertices, 2))
        if self.mismatches is not None:
            np.add.at(out, self.mismatches.label, self.mismatches.loss_db)
        return out

    @cached_property
    def running(self) -> RunningSums:
        """Sums over the string, for stretches."""
        return RunningSums(self)

    # --- sums --------------------------------------------------------------------------------------------------------
    @cached_property
    def counted(self) -> CountedTests:
        """The loss tests that count."""
        return CountedTests(self)

    def of_paths(self, path: Ints, outward: Flags, wavelength_nm: Floats, grade: str = "maximum") -> PathLosses:
        """Losses of whole paths by their labels: by tests where they count, by the records elsewhere.

        Parameters
        ----------
        path : labels, shape (n,); outward : whether the light goes away from the vertex that is the label;
        wavelength_nm : [nm], one each; grade : of the fibre's attenuation, "maximum" or "typical"
        """
        records = self.by_records(path, outward, wavelength_nm, grade)
        if not len(self.counted.columns.row):
            return records
        # a path is strung from its label on, so light that goes away from that goes with the string
        chosen = chosen_tests(self.counted, path, outward, wavelength_nm)
        return laid_over(self, self.counted, records, chosen, path, outward, wavelength_nm, grade)

    def by_records(self, path: Ints, outward: Flags, wavelength_nm: Floats, grade: str = "maximum") -> PathLosses:
        """As `of_paths`, as if nothing had been tested."""
        fibre_db, no_attenuation = self.fibre_db(self.metres(path), wavelength_nm, grade)
        mismatch_db = self._mismatch_db[path, np.where(outward, 0, 1)]
        shares = self.fixed_db(path)
        shares[:, CATALOGUE] += fibre_db + mismatch_db
        no_length, no_class = (count > 0 for count in self.cores_lacking(path))
        return PathLosses(shares, fibre_db, mismatch_db, no_length, no_class, no_attenuation)

    def not_known(self, path: Ints, wavelength_nm: Floats, losses: PathLosses) -> list[str]:
        """Say of each row of `of_paths` what its loss lacks, in words; "" where it lacks nothing."""
        return not_known(self, path, wavelength_nm, losses)

    def of_stretches(self, first: Ints, last: Ints, forward: Flags, wavelength_nm: Floats) -> PathLosses:
        """Losses between two places of `strung` each, connections at the two ends left out.

        Parameters
        ----------
        first, last : places, shape (n,), first <= last, both of one path; forward : whether light goes from first to
        last; wavelength_nm : [nm], one each
        """
        running = self.running
        metres = np.stack([m[last] - m[first] for m in running.metres], axis=1)
        fibre_db, no_attenuation = self.fibre_db(np.where(metres > TINY_M, metres, 0.0), wavelength_nm)
        shares = np.stack([s[last] - s[first] for s in running.splices_db], axis=1)
        shares += np.stack([c[last] - c[np.minimum(first + 1, last)] for c in running.connections_db], axis=1)
        mismatch_db = np.zeros(len(first))
        for (by_first, by_second), mine in zip(running.mismatch_db, (forward, ~forward), strict=True):
            # both fibres lie in the stretch; a stretch shorter than a joint holds neither
            mismatch_db[mine] = np.maximum(by_second[last[mine]] - by_first[first[mine]], 0.0)
        shares[:, CATALOGUE] += fibre_db + mismatch_db
        lacks = [s[last] - s[first] > 0.5 for s in (running.no_length, running.no_class)]
        return PathLosses(shares, fibre_db, mismatch_db, lacks[0], lacks[1], no_attenuation)

    def along(self, steps: Sequence[Step], wavelength_nm: float) -> list[Part]:
        """Every part of the loss of one path, in the order in which light meets it.

        Parameters
        ----------
        steps : the path, as `plant.walk.path_through` gives it; light goes from the first to the last
        wavelength_nm : [nm]

        The parts' losses sum up to `of_paths`; a part without a figure (NaN) says in `lacks` what it lacks.
        """
        return parts_of(self, steps, wavelength_nm)

    def to_finish(self, path: int) -> tuple[float, str]:
        """Loss [dB] that patching a path up to equipment would still add at its two ends, and what that is in words."""
        net = self.net
        ends = {int(v) for v in (net.paths.final[2 * path] >> 1, net.paths.final[2 * path + 1] >> 1)}
        two = [*ends] if len(ends) == 2 else [*ends] * 2  # one vertex alone has both its ends open
        connections, pigtails, total = 0, 0, 0.0
        for vertex in two:
            if vertex < net.ends.first_plug:
                pigtails += 1
                connections += 1
                total += self.values.splice_db("fusion") + self.values.connection_db()
            elif vertex < net.first_interface:
                connections += 1
                total += float(self.elements.connection_limit_db[vertex - net.ends.first_plug])
        parts = [
            f"{count} {word}{'s' if count > 1 else ''}"
            for count, word in ((connections, "connection"), (pigtails, "spliced pigtail"))
            if count
        ]
        return total, both(parts)
