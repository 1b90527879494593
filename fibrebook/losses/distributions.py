"""Mean and deviation of every element's loss, summed by path: what a channel will most likely lose, not at worst."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from fibrebook.light.catalogue import attenuation_db_per_km, connection_db, splice_db
from fibrebook.light.moments import SHARES, Moments, deviation_db, moments
from fibrebook.losses.elements import CATALOGUE, MEASURED, Losses, text
from fibrebook.losses.table import LossTable
from fibrebook.plant.network import SPLICE, TERMINATION
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.reference.firm import PUBLISHED, FirmValues

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Distribution:
    """Mean and deviation [dB] of one element each."""

    mean_db: Floats
    deviation_db: Floats

    def of(self, rows: Ints) -> Distribution:
        """Those of some rows."""
        return Distribution(self.mean_db[rows], self.deviation_db[rows])


@dataclass(frozen=True)
class Distributions:
    """Distribution of every element of a network. A recorded loss stands with the deviation of how it was found."""

    losses: LossTable

    @cached_property
    def splices(self) -> Distribution:
        """Distribution of each splice row."""
        method = text(self.losses.net.ends.table("splices")["method"])
        return self._known_or(self.losses.elements.splices, *_splice_figures(method, values=self.losses.values))

    @cached_property
    def pigtail_splices(self) -> Distribution:
        """Distribution of each termination row's pigtail splice; nothing where there is none."""
        found = self.losses.elements.pigtail_splices
        method = np.full(len(found.loss_db), "fusion", dtype=object)
        known = self._known_or(found, *_splice_figures(method, values=self.losses.values))
        there = self.losses.elements.has_pigtail
        return Distribution(np.where(there, known.mean_db, 0.0), np.where(there, known.deviation_db, 0.0))

    @cached_property
    def connections(self) -> Distribution:
        """Distribution of each port row as a connection; nothing where nothing is mated."""
        ports = self.losses.net.ends.table("ports")
        grade, array = text(ports["grade"]), text(ports["connector"]) == "MPO"
        mean, deviation = np.zeros(len(grade)), np.zeros(len(grade))
        for one in set(grade.tolist()):
            mine = grade == one
            mean[mine], deviation[mine] = connection_distribution(one, values=self.losses.values)
        mean[array], deviation[array] = connection_db(quantity="typical", array=True, values=self.losses.values), 0.0
        found = self._known_or(self.losses.elements.connections, mean, deviation)
        mated = self.losses.elements.mated
        return Distribution(np.where(mated, found.mean_db, 0.0), np.where(mated, found.deviation_db, 0.0))

    def _known_or(self, losses: Losses, mean: Floats, deviation: Floats) -> Distribution:
        own = np.where(
            losses.basis == MEASURED,
            self.losses.values.practice("measured splice deviation"),
            self.losses.values.practice("estimated splice deviation"),
        )
        # no wider than the loss itself: an exponential spread is as skewed as joints come
        own = np.where(losses.loss_db > 0, np.minimum(own, losses.loss_db), own)
        unknown = losses.basis == CATALOGUE
        return Distribution(np.where(unknown, mean, losses.loss_db), np.where(unknown, deviation, own))

    def fibre_distribution(self, wavelength_nm: float) -> Distribution:
        """Mean and deviation of each class's attenuation at a wavelength [dB/km]; NaN where there is no figure."""
        names = self.losses.class_names
        at = np.full(len(names), wavelength_nm)
        most = np.asarray(attenuation_db_per_km(names, at, values=self.losses.values))
        usual = np.asarray(attenuation_db_per_km(names, at, "typical", values=self.losses.values))
        usual = np.minimum(np.where(np.isnan(usual), most, usual), most)
        return Distribution(
            usual, deviation_db(usual, most, self.losses.values.practice("maximum as share of loss") / 100.0)
        )

    @cached_property
    def fixed(self) -> Moments:
        """Moments of splices and connections by path label."""
        parts = [(label, moments(c.mean_db, c.deviation_db)) for label, c in self._fixed_parts()]
        at = np.concatenate([label for label, _ in parts])
        n = self.losses.net.n_vertices
        sums = [
            np.bincount(at, np.concatenate([np.asarray(m[i]) for _, m in parts]), n).astype(np.float64)
            for i in range(3)
        ]
        return Moments(*sums)

    def _fixed_parts(self) -> list[tuple[Ints, Distribution]]:
        net, e = self.losses.net, self.losses.net.ends
        j = net.joints
        of_splice, of_pigtail = j.what == SPLICE, j.what == TERMINATION
        return [
            (net.joint_path[of_splice], self.splices.of(j.row[of_splice])),
            (net.joint_path[of_pigtail], self.pigtail_splices.of(j.row[of_pigtail])),
            (net.paths.label[e.first_plug : net.first_interface], self.connections),
        ]

    @cached_property
    def _powers_of_metres(self) -> list[Floats]:
        """Sums of km, km^2 and km^3 by path and class: cables vary each for itself, cores of one alike."""
        at, metres = self.losses.fibre_parts
        km = np.nan_to_num(metres) / 1000.0
        shape = (self.losses.net.n_vertices, len(self.losses.class_names))
        return [np.bincount(at, km**p, shape[0] * shape[1]).astype(np.float64).reshape(shape) for p in (1, 2, 3)]

    def sums(self, label: Ints, wavelength_nm: Floats) -> Moments:
        """Moments of the whole loss of paths at a wavelength each; NaN where a class has no figure."""
        mean, variance, third = (part[label].copy() for part in self.fixed)
        for wavelength in np.unique(wavelength_nm):
            at = np.flatnonzero(wavelength_nm == wavelength)
            per_km = self.fibre_distribution(float(wavelength))
            each = moments(per_km.mean_db, per_km.deviation_db)
            for total, of_km, value in zip((mean, variance, third), self._powers_of_metres, each, strict=True):
                km = of_km[label[at]]
                total[at] += np.where(km > 0, km * value, 0.0).sum(axis=1)
        return Moments(mean, variance, third)

    def elements(self, label: int, wavelength_nm: float) -> Distribution:
        """Every single element of one path, for drawing lots."""
        found = [c.of(np.flatnonzero(at == label)) for at, c in self._fixed_parts()]
        at, metres = self.losses.fibre_parts
        classes = len(self.losses.class_names)
        mine = np.flatnonzero(at // classes == label)
        km = np.nan_to_num(metres[mine]) / 1000.0
        per_km = self.fibre_distribution(wavelength_nm).of(at[mine] % classes)
        fibre = Distribution(
            np.where(km > 0, km * per_km.mean_db, 0.0), np.where(km > 0, km * per_km.deviation_db, 0.0)
        )
        parts = [*found, fibre]
        return Distribution(*(np.concatenate([getattr(c, k) for c in parts]) for k in ("mean_db", "deviation_db")))


def connection_distribution(grade: str, *, values: FirmValues = PUBLISHED) -> tuple[float, float]:
    """Mean and deviation [dB] of a connection of a grade: from its mean and 97 % figures, standard from 50 and 95 %."""
    if not grade:
        mean = float(connection_db(quantity="mean", values=values))
        return mean, float(deviation_db(mean, float(connection_db(quantity="95 %", values=values)), 0.95))
    fibre = "OM3" if grade.endswith("m") else "OS2"
    mean = float(connection_db(fibre, "mean", grade, values=values))
    return mean, float(deviation_db(mean, float(connection_db(fibre, "97 %", grade, values=values)), 0.97))


def _splice_figures(method: npt.NDArray[np.object_], *, values: FirmValues) -> tuple[Floats, Floats]:
    mean = np.asarray(splice_db(method, quantity="mean", values=values))
    return mean, deviation_db(mean, np.asarray(splice_db(method, quantity="97 %", values=values)), 0.97)


__all__ = ["SHARES", "Distribution", "Distributions", "connection_distribution"]
