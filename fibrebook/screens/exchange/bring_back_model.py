"""Taking copies away and bringing them back, without any widget: what a copy is, conflicts, choices, the merge."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fibrebook.errors import ConflictError, FibrebookError, InputError, NotFoundError
from fibrebook.readers.bring_in.worth_a_look import between_commits
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.register import open as open_register
from fibrebook.register.commits.decisions import SIDES
from fibrebook.register.copies.bring_back import PUT_RIGHT, TOGETHER
from fibrebook.register.copies.preview import NOT_YET, NOTHING, CopyPreview
from fibrebook.screens.frame.changes_told import in_words

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

MINE, THEIRS = SIDES
HEAD = "register.json"
CHOOSE_AGAIN = "a value that you had chosen about was changed meanwhile; look at it and choose again"
MOST_FOLDERS = 300  # looked into for copies to offer
Which = tuple[str, tuple[Any, ...], str]  # table, key, column: what a conflict is about


@dataclass(frozen=True)
class Brought:
    """What bringing back has done: the commits made here, oldest first, and what advice and acceptance say of them."""

    commits: tuple[int, ...]
    said: tuple[str, ...] = ()

    def in_words(self) -> str:
        """Say what was done and how it can be undone."""
        if not self.commits:
            return "nothing in the copy is left to bring back; nothing was changed here."
        if len(self.commits) == 1:
            undo = f"commit {self.commits[0]} in History"
        else:
            undo = f"them in History one by one, commit {self.commits[-1]} first"
        return (
            f"brought back as {_run(self.commits)}, under their authors and times. To take it back, undo {undo}. "
            "Bringing the copy back again brings only what is done in it from now on."
        )


class BringingBack:
    """One copy on its way back.

    Attributes
    ----------
    where : the copy's folder, "" until one is looked at
    seen : what it is and what it would change; None until one is looked at
    """

    def __init__(self, reg: Register) -> None:
        self.reg = reg
        self.where = ""
        self.seen: CopyPreview | None = None
        self._chosen: dict[Which, tuple[str, tuple[Any, ...]]] = {}  # the choice, and the values it was made on

    # --- looking -----------------------------------------------------------------------------------------------------
    def look(self, folder: str | os.PathLike[str]) -> CopyPreview:
        """Look at the copy in a folder; nothing is written, here or there.

        Raises
        ------
        InputError, NotFoundError : no folder is named, there is no copy in it, or one of another register
        """
        self.where, self.seen, self._chosen = "", None, {}
        place = folder_of(folder)
        found = self._look(place)
        self.where = place
        return found

    def look_again(self) -> CopyPreview:
        """Look at the same copy as it and the register are now; choices on values that are still the same stay."""
        self._known()
        return self._look(self.where)

    def _look(self, place: str) -> CopyPreview:
        try:
            found = self.reg.bring_back_preview(place, self._choices())
            kept = {w: c for w, c in self._chosen.items() if _values(found.conflicts).get(w) == c[1]}
            if kept != self._chosen:
                self._chosen = kept
                found = self.reg.bring_back_preview(place, self._choices())
        except NotFoundError:
            if "://" in place or (Path(place) / HEAD).is_file():
                raise
            raise NotFoundError(no_copy(self.reg, Path(place))) from None
        self.seen = found
        return found

    def about(self) -> list[str]:
        """Say what the copy is, a line each."""
        seen = self._known()
        stood = f"commit {seen.taken_at}" + (f" of {_minute(seen.stood_utc)}" if seen.stood_utc else "")
        if seen.sites is None:
            return [f"A copy of the whole register with its past, as it stood at {stood}."]
        all_or_some = f"all {len(seen.sites)} sites" if seen.every_site else _count(seen.sites, "site")
        named = "" if seen.every_site else f" ({', '.join(seen.sites)})"
        lines = [f"A copy of {all_or_some}{named}, taken {_minute(seen.taken_utc)} from {stood}."]
        if seen.left_out:
            lines.append(f"Left out: {_columns(seen.left_out)}. Where the copy is blank in these, what is here stays.")
        return lines

    def commits(self) -> pd.DataFrame:
        """Return what was done in the copy, newest first: time_utc, by, why, tables, sites, changes, here."""
        log = self._known().commits.iloc[::-1].reset_index(drop=True)
        return log[["here", "time_utc", "by", "why", "tables", "sites", "changes"]]

    def to_bring(self) -> str:
        """Say how much of it is to be brought."""
        log = self._known().commits
        if not len(log):
            return "Nothing was done in it since it was taken."
        todo, empty = (int((log["here"] == word).sum()) for word in (NOT_YET, NOTHING))
        brought = len(log) - todo - empty
        if not todo:
            return "All that was done in it is here already; there is nothing to bring back."
        more = [f"{brought} here already" if brought else "", f"{empty} with nothing to bring" if empty else ""]
        return "; ".join(filter(None, [f"{_count(range(todo), 'commit')} to bring back", *more])) + "."

    def changes(self) -> list[str]:
        """Say what would change here, a line each, site by site."""
        found = self._known().changes
        own = {k.name for k in KINDS.values() if k.scope != "site"}
        sites = ["" if t in own else str(k[0]) for t, k in zip(found["table"], found["key"], strict=True)]
        lines = []
        for site in dict.fromkeys(sites):
            told = in_words(found[[s == site for s in sites]])
            lines += [f"{site or 'The firm'}: {line}" for line in told]
        return lines

    def broken(self) -> list[str]:
        """Say which rules the copy's and the others' changes would break together; [] = none."""
        seen = self._known()
        return [f"{TOGETHER}. {PUT_RIGHT}.", *map(str, seen.problems)] if seen.problems else []

    # --- choosing ----------------------------------------------------------------------------------------------------
    def choose(self, sides: Iterable[str]) -> None:
        """Take a choice for each conflict, in their order: mine (the copy's), theirs (what is here), "" = open."""
        values = _values(self._known().conflicts)
        pairs = zip(values.items(), sides, strict=True)
        self._chosen = {which: (side, shown) for (which, shown), side in pairs if side}

    @property
    def chosen(self) -> list[str]:
        """The choice for each conflict in their order, "" where there is none."""
        known = self._known()
        return [self._chosen.get(which, ("", ()))[0] for which in _values(known.conflicts)]

    def _choices(self) -> dict[Which, str]:
        return {which: side for which, (side, _) in self._chosen.items()}

    # --- bringing back -----------------------------------------------------------------------------------------------
    def bring_back(self, by: str, why: str) -> Brought:
        """Merge the copy with the choices made.

        Raises
        ------
        InputError : who or why is not said, or a conflict has no choice
        ConflictError : rules would be broken together, or somebody saved meanwhile what meets the copy's changes
        """
        choices, done = self._choices(), len(self._known().commits)
        seen = self.look_again()
        if len(seen.commits) != done:
            raise ConflictError("more was done in the copy since you looked at it; see below, then bring it back")
        if self._choices() != choices:
            raise ConflictError(CHOOSE_AGAIN)
        if seen.undecided:
            raise InputError(f"{len(seen.undecided)} value(s) have no choice yet: choose mine or theirs for each")
        if not by.strip():
            raise InputError("who brings it back is not said: give your initials")
        known = set(seen.commits["here"])
        self.reg.bring_back(self.where, by, why.strip() or f"the copy {Path(self.where).name}", self._choices())
        self._chosen = {}
        now = [h for h in self._look(self.where).commits["here"] if h.startswith("commit ") and h not in known]
        made = tuple(dict.fromkeys(int(h.removeprefix("commit ")) for h in now))
        said = between_commits(self.reg, min(made) - 1, max(made)).words if made else ()
        return Brought(made, tuple(said))

    def _known(self) -> CopyPreview:
        if self.seen is None:
            raise InputError("no copy is looked at yet: name its folder first")
        return self.seen


def take_away(reg: Register, folder: str, sites: list[str], personal: bool = True) -> str:
    """Copy the register ([] = all of it), or some sites, to an empty folder; return what was done, in words."""
    copy = reg.take_away(folder_of(folder), sites or None, personal)
    what = "the whole register" if not sites else _count(sites, "site")
    left = "" if personal else ", without contacts, addresses and access notes"
    return f"{what} as at commit {reg.commit}{left} is in {copy.where}. Work there; afterwards bring it back here."


# --- folders ----------------------------------------------------------------------------------------------------------
def folder_of(folder: str | os.PathLike[str]) -> str:
    """Return a folder's whole path, or a bucket's address as it is."""
    text = os.fspath(folder).strip().strip("\"'")
    if not text:
        raise InputError("no folder is named: type the path of the copy's folder")
    return text if "://" in text else str(Path(text).expanduser().absolute())


def copies_near(reg: Register, *folders: Path) -> list[str]:
    """Return the copies of a register in some folders and the folders just in them, as whole paths."""
    places: list[Path] = []
    for folder in folders:
        places += [folder, *_inside(folder)]
    return [str(p) for p in dict.fromkeys(places[:MOST_FOLDERS]) if _is_copy(reg, p)]


def _inside(folder: Path) -> list[Path]:
    try:
        return sorted(p for p in folder.iterdir() if p.is_dir() and not p.name.startswith("."))
    except OSError:  # a folder that may not be read has no copies to offer
        return []


def _is_copy(reg: Register, place: Path) -> bool:
    try:
        if not (place / HEAD).is_file() or ("://" not in reg.where and place.samefile(reg.where)):
            return False
        return open_register(place, read_only=True).id == reg.id
    except (OSError, FibrebookError):
        return False


def no_copy(reg: Register, place: Path) -> str:
    """Say why there is no copy at a place, and where there may be one."""
    if not place.exists():
        return f"there is no folder {place}; look at the name, and whether the stick or drive is plugged in"
    if not place.is_dir():
        return f"{place} is a file; name the folder that the copy was taken to"
    if (place / "commits").is_dir():
        return f"{place} holds a copy that was broken off before it was whole; take another one"
    near = copies_near(reg, place)
    inside = f"; there is one in it: {near[0]}" if near else "; name the folder that the copy was taken to"
    return f"{place} holds no copy of the register{inside}"


# --- words ------------------------------------------------------------------------------------------------------------
def _values(conflicts: pd.DataFrame) -> dict[Which, tuple[Any, ...]]:
    rows = conflicts.to_dict("records")
    return {(r["table"], tuple(r["key"]), r["column"] or ""): (r["base"], r["theirs"], r["mine"]) for r in rows}


def _run(numbers: tuple[int, ...]) -> str:
    first, last = numbers[0], numbers[-1]
    if first == last:
        return f"commit {first}"
    if numbers == tuple(range(first, last + 1)):
        return f"commits {first} to {last}"
    return f"commits {', '.join(map(str, numbers))}"


def _minute(utc: str) -> str:
    return f"{utc[:16].replace('T', ' ')} UTC"


def _count(things: Any, what: str) -> str:
    return f"{len(things)} {what}{'' if len(things) == 1 else 's'}"


def _columns(left_out: list[str]) -> str:
    """sites.contact, sites.access -> site (Contact, Access)."""
    by_table: dict[str, list[str]] = {}
    for name in left_out:
        table, _, column = name.partition(".")
        kind = KINDS.get(table)
        title = kind.by_name[column].title if kind and column in kind.by_name else column
        by_table.setdefault(kind.singular if kind else table, []).append(title)
    return "; ".join(f"{singular} ({', '.join(titles)})" for singular, titles in by_table.items())
