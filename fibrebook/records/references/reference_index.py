"""Records to integers: every core end, port position and interface position becomes a vertex, every joint a pair.

A vertex has two slots. Core end: slot 0 = its own core, slot 1 = a splice or a termination. Port position: slot 0 = its
rear, slot 1 = its front. Interface position: slot 1 only. A loose cord end: slot 1 only.

Text is met once, in the small dictionaries of the text columns; all else is integer work.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pyarrow as pa

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.references.labels_as_numbers import Index, Ints, Labels, integers, one_array

Tables = Mapping[str, pa.Table]

MANY_PORTS = 1 << 32  # more labels than a register can hold

# Why a reference from one record to another found nothing (0 = found).
FOUND, NO_CABLE, NO_CORE, NOT_HERE, WHICH_END, NO_PLACE, NO_POSITION, BLANK = range(8)

REAR, FRONT = 0, 1


@dataclass
class CoreEnds:
    """Core-end references of a table: `vertex` (2 * core + end, or -1) and `why` it was not found."""

    vertex: Ints
    why: Ints
    end: Ints


@dataclass
class Ends:
    """All vertices of a set of tables, and how references resolve to them.

    Vertices are numbered: core ends first (core c of the register: 2c at end A, 2c + 1 at end B; the cores of cable
    row r start at `first_core[r]`), then port rows, then interface rows, then one for each loose cord end.
    """

    tables: Tables
    site_labels: Labels = field(default_factory=Labels)
    cable_labels: Labels = field(default_factory=Labels)
    place_labels: Labels = field(default_factory=Labels)
    port_labels: Labels = field(default_factory=Labels)
    position_labels: Labels = field(default_factory=Labels)

    def table(self, kind: str) -> pa.Table:
        """Rows of a kind, empty where none were given."""
        return self.tables[kind] if kind in self.tables else KINDS[kind].empty()

    def site_ids(self, kind: str) -> Ints:
        """Site of each row of a kind."""
        return self.site_labels.ids(self.table(kind)["site"])

    # --- cables and cores -------------------------------------------------------------------------------------------
    @cached_property
    def core_count(self) -> Ints:
        """Cores in each cable row."""
        return integers(self.table("cables")["core_count"])

    @cached_property
    def first_core(self) -> Ints:
        """Number of the first core of each cable row; one more entry than cables, the last is the number of cores."""
        return np.concatenate([[0], np.cumsum(self.core_count)]).astype(np.int64)

    @cached_property
    def core_cable(self) -> Ints:
        """Cable row of each core."""
        return np.repeat(np.arange(len(self.core_count)), self.core_count)

    @cached_property
    def core_number(self) -> Ints:
        """Number of each core in its cable, from 1."""
        return np.arange(self.n_cores) - self.first_core[self.core_cable] + 1

    @property
    def n_cores(self) -> int:
        """How many cores there are."""
        return int(self.first_core[-1])

    @cached_property
    def cable_site(self) -> Ints:
        """Site of each cable row."""
        return self.site_ids("cables")

    @cached_property
    def _cable_index(self) -> tuple[Ints, Ints]:
        return self.cable_site, self.cable_labels.ids(self.table("cables")["cable"])

    def cable_rows(self, site: Ints, column: pa.ChunkedArray) -> Ints:
        """Cable row that each (site, cable label) names, or -1."""
        own_site, own_label = self._cable_index
        label = self.cable_labels.ids(column)
        width = len(self.cable_labels)
        return Index(own_site * width + own_label).rows(site * width + label)

    @cached_property
    def cable_place(self) -> tuple[Ints, Ints]:
        """Place rows of end A and end B of each cable (-1 where blank)."""
        cables = self.table("cables")
        a = self.place_rows(self.cable_site, cables["a_enclosure"])
        return a, self.place_rows(self.cable_site, cables["b_enclosure"])

    def core_ids(self, site: Ints, cable: pa.ChunkedArray, core: pa.ChunkedArray) -> tuple[Ints, Ints]:
        """Core that each (site, cable, core) names, or -1, and why not."""
        return self._core_ids(self.cable_rows(site, cable), core)

    def _core_ids(self, row: Ints, core: pa.ChunkedArray) -> tuple[Ints, Ints]:
        number = integers(core)
        ok = (row >= 0) & (number >= 1) & (number <= np.append(self.core_count, 0)[row])
        why = np.where(row < 0, NO_CABLE, np.where(ok, FOUND, NO_CORE))
        return np.where(ok, self.first_core[row] + number - 1, -1), why

    def core_ends(self, kind: str, cable: str, core: str, end: str) -> CoreEnds:
        """Resolve the core ends that rows of splices or terminations name at their enclosure."""
        table = self.table(kind)
        site = self.site_ids(kind)
        place = self.place_rows(site, table["enclosure"])
        row = self.cable_rows(site, table[cable])
        core_id, why = self._core_ids(row, table[core])
        at_a = (np.append(self.cable_place[0], -1)[row] == place) & (place >= 0)
        at_b = (np.append(self.cable_place[1], -1)[row] == place) & (place >= 0)
        said = np.array([0, 1, 2], np.int64)[_end_codes(table[end])]  # 0 blank, 1 A, 2 B
        which = np.where(said > 0, said - 1, np.where(at_a, 0, 1))
        here = np.where(which == 0, at_a, at_b)
        why = np.where(why != FOUND, why, np.where(here, FOUND, NOT_HERE))
        why = np.where((why == FOUND) & (said == 0) & at_a & at_b, WHICH_END, why)
        return CoreEnds(np.where(why == FOUND, 2 * core_id + which, -1), why, which)

    # --- places and positions ----------------------------------------------------------------------------------------
    @cached_property
    def n_enclosures(self) -> int:
        """Enclosure rows come first among places, equipment rows after."""
        found: int = self.table("enclosures").num_rows
        return found

    @cached_property
    def place_site(self) -> Ints:
        """Site of each place."""
        return np.concatenate([self.site_ids("enclosures"), self.site_ids("equipment")])

    @cached_property
    def place_label(self) -> Ints:
        """Label id of each place."""
        ids = self.place_labels.ids
        return np.concatenate([ids(self.table("enclosures")["enclosure"]), ids(self.table("equipment")["equipment"])])

    def place_rows(self, site: Ints, column: pa.ChunkedArray) -> Ints:
        """Place (enclosure or equipment) that each (site, label) names, or -1 (blank too)."""
        own_site, own_label = self.place_site, self.place_label
        label = self.place_labels.ids(column)
        width = len(self.place_labels)
        rows = Index(own_site * width + own_label).rows(site * width + label)
        return np.where(label == 0, -1, rows)

    @cached_property
    def _plug_keys(self) -> tuple[Ints, Ints, Ints]:
        ports, faces = self.table("ports"), self.table("interfaces")
        place = np.concatenate(
            [
                self.place_rows(self.site_ids("ports"), ports["enclosure"]),
                self.place_rows(self.site_ids("interfaces"), faces["equipment"]),
            ]
        )
        port = np.concatenate([self.port_labels.ids(ports["port"]), self.port_labels.ids(faces["interface"])])
        position = np.concatenate(
            [self.position_labels.ids(ports["position"]), self.position_labels.ids(faces["position"])]
        )
        return place, port, position

    @cached_property
    def plug_place(self) -> Ints:
        """Place of each port row, then of each interface row."""
        return self._plug_keys[0]

    @property
    def n_ports(self) -> int:
        """How many port rows there are."""
        found: int = self.table("ports").num_rows
        return found

    @property
    def n_plugs(self) -> int:
        """Port rows and interface rows together."""
        return len(self.plug_place)

    @property
    def first_plug(self) -> int:
        """Vertex of the first port row."""
        return 2 * self.n_cores

    def plug_vertices(
        self, site: Ints, at: pa.ChunkedArray, port: pa.ChunkedArray, position: pa.ChunkedArray
    ) -> tuple[Ints, Ints]:
        """Vertex of the port or interface position that each row names, or -1, and why not (BLANK: names none)."""
        place = self.place_rows(site, at)
        own_place, own_port, own_position = self._plug_keys
        port_id, position_id = self.port_labels.ids(port), self.position_labels.ids(position)
        wide, deep = len(self.port_labels), len(self.position_labels)
        row = Index((own_place * wide + own_port) * deep + own_position).rows(
            (place * wide + port_id) * deep + position_id
        )
        row = np.where(place < 0, -1, row)
        blank = (self.place_labels.ids(at) == 0) & (port_id == 0) & (position_id == 0)
        why = np.where(row >= 0, FOUND, np.where(blank, BLANK, np.where(place < 0, NO_PLACE, NO_POSITION)))
        return np.where(row >= 0, row + self.first_plug, -1), why

    def interface_ids(self, site: Ints, equipment: pa.ChunkedArray, interface: pa.ChunkedArray) -> Ints:
        """Integer of the interface (all its positions together) that each row names; -1 where the equipment is none."""
        place = self.place_rows(site, equipment)
        return np.where(place < 0, -1, place * MANY_PORTS + self.port_labels.ids(interface))

    # --- joints ------------------------------------------------------------------------------------------------------
    @cached_property
    def splice_ends(self) -> tuple[CoreEnds, CoreEnds]:
        """Both core ends of every splice row."""
        return (
            self.core_ends("splices", "a_cable", "a_core", "a_end"),
            self.core_ends("splices", "b_cable", "b_core", "b_end"),
        )

    @cached_property
    def termination_ends(self) -> CoreEnds:
        """The core end of every termination row."""
        return self.core_ends("terminations", "cable", "core", "end")

    @cached_property
    def termination_ports(self) -> tuple[Ints, Ints]:
        """Port vertex of every termination row, and why not."""
        t = self.table("terminations")
        return self.plug_vertices(self.site_ids("terminations"), t["enclosure"], t["port"], t["position"])

    @cached_property
    def patch_ends(self) -> tuple[tuple[Ints, Ints], tuple[Ints, Ints]]:
        """Vertices of both ends of every patch row, and why not; a blank end is loose."""
        t, site = self.table("patches"), self.site_ids("patches")
        a = self.plug_vertices(site, t["a_at"], t["a_port"], t["a_position"])
        return a, self.plug_vertices(site, t["b_at"], t["b_port"], t["b_position"])


def _end_codes(column: pa.ChunkedArray) -> Ints:
    coded = one_array(column)
    words = np.array([{"A": 1, "B": 2}.get(w, 0) for w in coded.dictionary.to_pylist()] + [0], np.int64)
    found: Ints = words[coded.indices.fill_null(-1).to_numpy(zero_copy_only=False).astype(np.int64)]
    return found


def key_text(row: Mapping[str, object], columns: Sequence[str]) -> str:
    """Return labels as people read them, joined by a slash, blanks left out."""
    return "/".join(str(row[c]) for c in columns if row.get(c) not in (None, ""))
