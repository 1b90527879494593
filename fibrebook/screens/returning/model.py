"""What a return visit is told about one thing at a site, without any widget: path, panel, cores, tests, snags, dark."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.paths.cross_reference import cross_reference_table
from fibrebook.analyses.paths.goes_dark import SCHEMA as GOES_DARK
from fibrebook.analyses.paths.goes_dark import goes_dark_table
from fibrebook.analyses.paths.panel_and_tray import panel_table, tray_table
from fibrebook.analyses.paths.trace import trace_table
from fibrebook.plant import Network
from fibrebook.records import to_frame
from fibrebook.snapshot.find import Finder, Start, path_start
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.words.labels import natural

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

CORES = (
    "core", "tube_colour", "tube_tracer", "core_colour", "core_tracer", "state", "a_port", "a_position", "b_port",
    "b_position", "channel",
)  # fmt: skip
TESTS = (
    "tested_on", "method", "wavelength_nm", "direction", "loss_db", "verdict", "from", "to", "tested_by", "instrument",
)  # fmt: skip
NEWEST = 12
SHORT = 2  # letters: "A" and "IN" are words too, so capitals count in labels as short as that


@dataclass
class SiteView:
    """One site at one commit; everything is worked out when first asked for and kept."""

    reg: Register
    site: str
    commit: int = field(init=False)

    def __post_init__(self) -> None:
        self.commit = self.reg.commit

    @cached_property
    def seen(self) -> PlantSnapshot:
        """The site as it is at that commit."""
        return PlantSnapshot.of(self.reg, self.site)

    @property
    def net(self) -> Network:
        """The site's network."""
        return self.seen.network

    @cached_property
    def extra(self) -> dict[str, pa.Table]:
        """Tables besides the plant's."""
        return self.reg.tables(self.site, ["locations", "tests", "snags", "photos"])

    @cached_property
    def finder(self) -> Finder:
        """What can be asked for."""
        return Finder(self.seen)

    @cached_property
    def cores(self) -> pd.DataFrame:
        """`cross_reference` of the site."""
        return to_frame(cross_reference_table(self.seen))

    def path(self, start: Start) -> pd.DataFrame | None:
        """Return the path through a thing, None where it is no single path (a cable, an enclosure, equipment)."""
        begin = path_start(self.net, start)
        if begin is None:
            return None
        return to_frame(trace_table(self.seen, self.site, begin))

    def dark(self, start: Start) -> pd.DataFrame:
        """Return what goes dark if the thing is unplugged, cut or opened."""
        if start[0] == "location":
            frames = [self.dark((kind, label)) for kind, label in self.things_in(start[1])]
            return _together(frames) if frames else to_frame(GOES_DARK.empty_table())
        begin = start if start[0] != "channel" else path_start(self.net, start)
        if begin is None:
            import pandas as pd

            return pd.DataFrame(columns=["site", "channel", "purpose", "application", "a", "b", "strands"])
        return to_frame(goes_dark_table(self.seen, self.site, begin))

    def things_in(self, location: str) -> list[tuple[str, str]]:
        """Enclosures and equipment in a location."""
        found = []
        for kind, table in (("enclosure", "enclosures"), ("equipment", "equipment")):
            for row in self.net.ends.table(table).to_pylist():
                if row["location"] == location:
                    found.append((kind, row[kind]))
        return found

    def doors(self, start: Start, path: pd.DataFrame | None) -> list[str]:
        """Enclosures to open for a thing: its own first, then those that its path goes through."""
        kind, own = start[0], []
        if kind in ("enclosure", "port"):
            own = [start[1]]
        elif kind == "location":
            own = [label for what, label in self.things_in(start[1]) if what == "enclosure"]
        elif kind in ("cable", "core"):
            rows = [r for r in self.net.ends.table("cables").to_pylist() if r["cable"] == start[1]]
            own = [row[c] for row in rows for c in ("a_enclosure", "b_enclosure") if row[c]]
        elif kind == "cord":
            cords = [r for r in self.net.ends.table("patches").to_pylist() if r["cord"] == start[1]]
            panels = set(self.net.ends.table("enclosures")["enclosure"].to_pylist())
            own = [row[c] for row in cords for c in ("a_at", "b_at") if row[c] in panels]
        if path is not None:
            own += path.loc[path["kind"].isin(["port", "splice"]), "at"].tolist()
        return list(dict.fromkeys(own))

    def panel(self, enclosure: str) -> pd.DataFrame:
        """Ports of an enclosure, see `panel_rows`."""
        return to_frame(panel_table(self.seen, self.site, enclosure))

    def trays(self, enclosure: str) -> pd.DataFrame:
        """Splices of an enclosure, see `tray_rows`."""
        return to_frame(tray_table(self.seen, self.site, enclosure))

    def cable_of(self, start: Start, path: pd.DataFrame | None) -> str | None:
        """The cable whose other cores are worth showing: the one asked for, else the first on the path."""
        if start[0] in ("cable", "core"):
            return str(start[1])
        if start[0] == "port":
            mine = self.panel(start[1])
            mine = mine[(mine["port"] == start[2]) & mine["cable"].notna()]
            if len(mine):
                return str(mine["cable"].iloc[0])
        on = path.loc[path["kind"] == "core", "at"].tolist() if path is not None else []
        return str(on[0]) if on else None

    def cores_of(self, cable: str) -> pd.DataFrame:
        """Cores of a cable with colours, state, where they are made off and their channel."""
        found = self.cores[self.cores["cable"] == cable]
        return found[[*CORES]].reset_index(drop=True)

    def interfaces_of(self, equipment: str) -> pd.DataFrame:
        """Interfaces of equipment and where each leads."""
        import pandas as pd

        rows = []
        for r in self.net.ends.table("interfaces").to_pylist():
            if r["equipment"] == equipment:
                path = self.path(("interface", equipment, r["interface"], r["position"]))
                far = "nothing plugged in"
                if path is not None and len(path) > 1:
                    far = f"{path['at'].iloc[-1]}/{path['name'].iloc[-1]}"
                rows.append((r["interface"], r["position"], r["application"], far))
        return pd.DataFrame(rows, columns=["interface", "position", "application", "reaches"])

    def tests_on(self, start: Start, path: pd.DataFrame | None) -> pd.DataFrame:
        """The newest tests of anything on the path (or of the cable, enclosure, equipment)."""
        tests = to_frame(self.extra["tests"])
        for end in ("from", "to"):
            parts = [tests[f"{end}_{c}"].fillna("").tolist() for c in ("at", "port", "position")]
            tests[end] = ["/".join(filter(None, names)) for names in zip(*parts, strict=True)]
        at, cores = self._plugs_and_cores(path)
        if start[0] == "cable":
            at |= self._ports_of(str(start[1]))
        cable, core = tests["cable"].tolist(), tests["core"].astype("float64").tolist()  # NaN where no core is named
        mine = np.array([pair in cores for pair in zip(cable, core, strict=True)], bool)
        mine |= (tests["from"].isin(at) | tests["to"].isin(at)).to_numpy()
        if start[0] == "cable":
            mine |= (tests["cable"] == start[1]).to_numpy(dtype=bool, na_value=False)
        if start[0] in ("enclosure", "equipment"):
            mine |= ((tests["from_at"] == start[1]) | (tests["to_at"] == start[1])).to_numpy(dtype=bool, na_value=False)
        found = tests[mine].sort_values(["tested_on", "test"], ascending=[False, True], kind="stable")
        return found[[*TESTS]].head(NEWEST).reset_index(drop=True)

    def _ports_of(self, cable: str) -> set[str]:
        mine = self.cores[self.cores["cable"] == cable]
        ends = [mine[[f"{e}_enclosure", f"{e}_port", f"{e}_position"]].fillna("").to_numpy().tolist() for e in "ab"]
        return {"/".join(filter(None, parts)) for rows in ends for parts in rows if parts[1]}

    def _plugs_and_cores(self, path: pd.DataFrame | None) -> tuple[set[str], set[tuple[str, float]]]:
        at: set[str] = set()
        cores: set[tuple[str, float]] = set()
        if path is not None:
            plugs = path[path["kind"].isin(["port", "interface"])]
            at = {f"{a}/{n}" for a, n in zip(plugs["at"], plugs["name"], strict=True)}
            on = path[path["kind"] == "core"]
            cores = {(a, float(n)) for a, n in zip(on["at"], on["name"], strict=True)}
        return at, cores

    def names(self, start: Start, path: pd.DataFrame | None) -> set[str]:
        """Labels of everything on the way of a thing: what a snag or a piece of advice may name."""
        found = {str(p) for p in start[1:2]}
        if path is not None:
            found |= set(path["at"]) | set(path["location"].dropna())
        return found

    def snags(self, start: Start, path: pd.DataFrame | None) -> pd.DataFrame:
        """Open snags of the site, those that name something on the way first (`here`)."""
        snags = to_frame(self.extra["snags"])
        snags = snags[snags["done_on"].isna()].copy()
        names = self.names(start, path)
        texts = snags["where"].fillna("") + " " + snags["what"].fillna("")
        snags["here"] = list(map(naming(names), texts))
        snags = snags.sort_values(["here", "found_on"], ascending=[False, False], kind="stable")
        return snags[["here", "snag", "what", "where", "found_on"]].reset_index(drop=True)

    def photos(self, start: Start | None, path: pd.DataFrame | None) -> list[dict[str, Any]]:
        """Photos whose words name a thing or what is on its way, as rows of the table; without a thing all of the site.

        Those of the thing itself come first, then those of what it is in or belongs to, then of the rest of its way,
        then of the rooms; among them the newest first, those without a date last.
        """
        rows: list[dict[str, Any]] = self.extra["photos"].to_pylist()
        rows.sort(key=lambda r: natural(r["photo"]), reverse=True)
        rows.sort(key=lambda r: r["taken_on"] or dt.date.min, reverse=True)
        if start is None:
            return rows
        named = [naming(names) for names in self._near(start, path)]
        ranks = [next((i for i, names in enumerate(named) if names(_words_of(r))), -1) for r in rows]
        return [r for _, r in sorted(((i, r) for i, r in zip(ranks, rows, strict=True) if i >= 0), key=lambda x: x[0])]

    def _near(self, start: Start, path: pd.DataFrame | None) -> list[set[str]]:
        """Names of a thing; of what it is in; of the rest of its way; of the rooms."""
        doors = set(self.doors(start, path))
        way = doors | (set(path["at"]) if path is not None else set())
        if start[0] == "location":
            way |= {label for _, label in self.things_in(start[1])}
        rooms = set(path["location"].dropna()) if path is not None else set()
        for kind, table in (("enclosure", "enclosures"), ("equipment", "equipment")):
            rows = self.net.ends.table(table).to_pylist()
            rooms |= {r["location"] for r in rows if r["location"] and r[kind] in way | {start[1]}}
        return [_spoken(start), {str(start[1])}, {str(n) for n in way}, rooms]

    @cached_property
    def advice(self) -> pd.DataFrame:
        """Everything worth a second look at the site."""
        from fibrebook.analyses.advice.advice import advice

        return advice(self.reg, self.site)

    def advice_on(self, start: Start, path: pd.DataFrame | None) -> pd.DataFrame:
        """Advice about what lies on the way of a thing."""
        named = naming(self.names(start, path))
        mine = [named(f"{r} {w}") for r, w in zip(self.advice["record"], self.advice["what"], strict=True)]
        return self.advice.loc[mine, ["check", "record", "what", "do"]].reset_index(drop=True)


def _together(frames: list[pd.DataFrame]) -> pd.DataFrame:
    import pandas as pd

    joined = pd.concat(frames, ignore_index=True)
    return joined.drop_duplicates(["channel", "a", "b"]).reset_index(drop=True)


def naming(names: Iterable[str]) -> Callable[[str], bool]:
    """Return a test whether a text names any of some labels, as whole words; capitals matter in the shortest only.

    What follows a label after a stroke belongs to it: "P1/2" names P1, but "AP1" and "P12" do not.
    """
    parts = []
    for name in sorted(filter(None, names), key=len, reverse=True):
        words = r"\s+".join(map(re.escape, name.split()))
        parts.append(words if name.isalpha() and len(name) <= SHORT else f"(?i:{words})")
    if not parts:
        return lambda text: False
    found = re.compile(rf"(?<![^\s,;:.()'\"])(?:{'|'.join(parts)})(?=[\s,;:()/'\"]|\.?(?:\s|$))")
    return lambda text: found.search(text) is not None


def _spoken(start: Start) -> set[str]:
    """How people write a thing: HO-FM/1/9, HO-FM/1 9, HO-FM/1 core 9; a port also without its position."""
    kind, *rest = start
    labels = [str(x) for x in rest if x not in (None, "")]
    shorter = [labels[:n] for n in range(min(2, len(labels)), len(labels) + 1)]
    found = {sep.join(some) for some in shorter for sep in "/ "}
    if len(labels) > 1:
        found |= {f"{labels[0]} {kind} {sep.join(some[1:])}" for some in shorter for sep in "/ "}
    return found


def _words_of(photo: dict[str, Any]) -> str:
    return " ; ".join(photo[n] for n in ("where", "what") if photo[n])
