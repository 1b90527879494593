"""What each column of a table means: by its heading, by its values, and by what a person said of it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from fibrebook.readers.files.limits import Position, column_letter
from fibrebook.readers.lists.asking import LEAVE_OUT, NOTE, Asking, head_key, means_yes
from fibrebook.readers.lists.tables.block import Block
from fibrebook.readers.lists.tables.heading_words import spoken
from fibrebook.readers.lists.tables.roles import OF_AN_END, ROLES, Heading, heading_of, with_ends
from fibrebook.readers.lists.values.amounts import amount, day, state
from fibrebook.readers.lists.values.colours import colour, two_colours
from fibrebook.readers.lists.values.numbers import in_two, is_label, number_and_colour, numbers, ports, says_nothing
from fibrebook.words.labels import folded

Cells = list[tuple[str, Position]]
ENOUGH = 0.8  # share of a column's values that must read as its heading says
_MADE_A_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")  # a range that the spreadsheet took for a day
SHOWN = 3  # values shown beside a question


@dataclass(frozen=True)
class ListColumn:
    """One column: which field of the table, its heading, its role ("" = not known), what its heading names besides.

    `panel`: the panel or enclosure that the heading names, where a person said so; `place`: it is headed From or To,
    under which a building may stand as well as a panel; `asked`: the key of the question
    that it waits for.
    """

    field: int
    heading: str
    role: str
    key: str
    wavelength: int | None = None
    panel: str = ""
    place: bool = False
    asked: str = ""


def columns_of(block: Block, asking: Asking, known: set[str]) -> list[ListColumn]:
    """Return the columns of a table.

    Parameters
    ----------
    known : roles that titles tell for it
    """
    heads = [heading_of(block.heads.get(f, "")) for f in block.fields]
    values = [_values(block, f) for f in block.fields]
    heads = [_by_values(h, v, heads) for h, v in zip(heads, values, strict=True)]
    roles = with_ends(heads)
    columns = []
    for f, head, role in zip(block.fields, heads, roles, strict=True):
        heading = block.heads.get(f, "")
        key = _key(block, f, heading)
        columns.append(ListColumn(f, heading, role, key, head.wavelength, place=head.role == "place"))
    said = {folded(k): v for k, v in asking.said.columns.items()}
    columns = [replace(c, role=role_named(said[folded(c.key)])) if folded(c.key) in said else c for c in columns]
    columns = _without_doubles(columns, said)
    return [
        _settled(block, c, h, v, columns, asking, said, known) for c, h, v in zip(columns, heads, values, strict=True)
    ]


def _key(block: Block, f: int, heading: str) -> str:
    place = f"row {f}" if block.turned else column_letter(f)
    return head_key(heading, block.grid.sheet.name, place)


def _without_doubles(columns: list[ListColumn], said: dict[str, str]) -> list[ListColumn]:
    """A role that was said of one column is no other's."""
    named = {c.role for c in columns if folded(c.key) in said and c.role not in ("remark", "loss_db", LEAVE_OUT)}
    return [replace(c, role="") if c.role in named and folded(c.key) not in said else c for c in columns]


def role_named(meaning: str) -> str:
    """Return the role that a person named by its key or by its words; "" where it is none."""
    plain = folded(meaning)
    if plain in (NOTE, "note on it", "note on the core"):
        return "remark"
    return next((r for r, words in ROLES.items() if plain in (folded(r), folded(words))), "")


def _values(block: Block, f: int) -> Counter[str]:
    texts = (block.text(line, f) for line in block.lines)
    return Counter(t for t in texts if t and not says_nothing(t))


def share(values: Counter[str], reads: Callable[[str], object]) -> float:
    """Return the share of values that a reader takes; 1 where there are none."""
    total = sum(values.values())
    return sum(n for t, n in values.items() if reads(t)) / total if total else 1.0


def _by_values(head: Heading, values: Counter[str], heads: Sequence[Heading]) -> Heading:
    """Correct a heading's role where the values are plainly of the neighbouring kind."""
    roles = {h.role for h in heads}
    if head.role in ("core", "core_colour", "tube", "tube_core", "core_count", "cable") and values:
        if share(values, two_colours) >= ENOUGH or (head.role == "tube" and share(values, _tube_and_core) >= ENOUGH):
            return replace(head, role="tube_core")
        if head.role == "core" and share(values, colour) >= ENOUGH and "core_colour" not in roles:
            return replace(head, role="core_colour")
        if head.role == "tube" and share(values, colour) >= ENOUGH:
            return replace(head, role="tube_colour")
        if (
            head.role in ("core", "cable")
            and share(values, _cable_and_core) >= ENOUGH
            and not {"core"} & (roles - {head.role})
        ):
            return replace(head, role="cable_core")
        if head.role == "core_count" and "core" not in roles and roles & {"port", "panel_port", "core_colour", "tube"}:
            return replace(head, role="core")
    if head.role == "condition" and values and share(values, day) >= ENOUGH:
        return replace(head, role="tested_on")
    return head


def _tube_and_core(text: str) -> object:
    found = in_two(text)
    return "/" in text and (numbers(text) or numbers(text.lstrip("tT").replace("/", ",")) or found)


def _cable_and_core(text: str) -> object:
    return in_two(text) and not numbers(text)


READS: dict[str, Callable[[str], object]] = {
    "core": lambda t: numbers(t) or number_and_colour(t) or _MADE_A_DATE.fullmatch(t),
    "cable_core": in_two,
    "tube": lambda t: numbers(t.lstrip("tT")) or number_and_colour(t),
    "tube_colour": colour,
    "core_colour": colour,
    "tube_core": lambda t: two_colours(t) or _tube_and_core(t) or "/" in t,
    "core_count": lambda t: amount(t) is not None or numbers(t) or "x" in t.casefold(),
    "cores_per_tube": numbers,
    "length_m": lambda t: amount(t) is not None or t[:1].isdecimal(),
    "loss_db": lambda t: amount(t) is not None or any(c.isdecimal() for c in t),
    "tested_on": lambda t: day(t) or any(c.isdecimal() for c in t),
    "installed_on": lambda t: day(t) or any(c.isdecimal() for c in t),
    "cable": is_label,
    "site": lambda t: len(t) <= 80,
    "enclosure": is_label,
    "panel_port": in_two,
    "port": lambda t: ports(t) or in_two(t) or _MADE_A_DATE.fullmatch(t),
    "position": lambda t: len(t) <= 4,
    "condition": lambda t: True,
}  # fmt: skip


def _settled(
    block: Block, column: ListColumn, head: Heading, values: Counter[str], columns: Sequence[ListColumn],
    asking: Asking, said: dict[str, str], known: set[str],
) -> ListColumn:  # fmt: skip
    """Ask about a column whose heading and values do not agree, or that can be two things."""
    sheet = block.grid.sheet.name
    cells = [(sheet, block.at(i, column.field)) for i in block.lines if block.text(i, column.field)]
    cells += [(sheet, at) for at in block.head if at[0 if block.turned else 1] == column.field]
    if folded(column.key) in said:
        # House E port names its panel; a strange word that was said to be a port names none, nor where a column does
        names_one = head.unknown and head.role in OF_AN_END and column.role.endswith("_port")
        if not names_one or any(c.role == f"{column.role[0]}_enclosure" for c in columns):
            return column
        return replace(column, panel=_place_words(column.heading))
    if not values:
        return column  # nothing stands under it
    role = column.role
    bare = role[2:] if role[:2] in ("a_", "b_") else role
    agrees = bool(role) and share(values, READS.get(bare, lambda t: True)) >= ENOUGH
    counted = bare == "enclosure" and share(values, numbers) >= ENOUGH and len(values) > max(2, len(block.lines) / 2)
    agrees = agrees and not counted  # as many panels as lines, all of them numbers: ports, rather
    if (
        role == "tube_core"
        and share(values, two_colours) >= ENOUGH
        and not {"tube", "core"} <= spoken(column.heading)[0]
    ):
        return _two_colours_meant(column, values, asking, cells)
    if role and agrees and not (head.unknown and bare not in ("port", "panel_port", "enclosure")):
        column = _port_or_both(block, column, values, columns, asking, cells)
        if head.unknown and bare == "port" and not column.asked:
            return _on_which_panel(column, columns, asking, cells)
        return column
    if (
        role
        and agrees
        and bare in ("core", "cable", "core_colour", "remark", "loss_db", "tube", "condition", "fibre_class")
    ) and (bare != "core" or share(values, numbers) >= ENOUGH):
        return column
    proposals = [*_guesses(values, columns), ROLES["remark"], ROLES["leave out"]]
    such = ", ".join(repr(t) for t in list(values)[:SHOWN])
    named = f"The column {column.heading!r}" if column.heading else f"The column without a heading ({column.key})"
    answer = asking.ask(f"column {column.key}", cells, column.heading, f"{named} holds {such}: what is it?", proposals)
    if answer is None:
        return replace(column, role="", asked=f"column {column.key}")
    return replace(column, role=role_named(answer) or ("remark" if answer == NOTE else ""))


def _two_colours_meant(column: ListColumn, values: Counter[str], asking: Asking, cells: Cells) -> ListColumn:
    """Asked once: is red/black tube and core, or two cores."""
    such = next(t for t in values if two_colours(t))
    first, second = two_colours(such) or ("", "")
    ways = (f"tube {first} and core {second}", f"two cores, {first} and {second}")
    key = f"two colours in column {column.key}"
    answer = asking.ask(key, cells, such, f"{such!r} under {column.heading!r}: what do the two colours mean?", ways)
    if answer is None:
        return replace(column, role="", asked=key)
    return replace(column, role="core_pair") if folded(answer).startswith("two cores") else column


def _place_words(heading: str) -> str:
    """Return what a heading names beside its known word: House E of "House E port"."""
    words = heading.replace("/", " ").split()
    kept = [w for w in words if heading_of(w).role not in OF_AN_END and folded(w) not in ("no", "no.", "nr", "number")]
    return " ".join(kept).strip(" -–:")


def _on_which_panel(column: ListColumn, columns: Sequence[ListColumn], asking: Asking, cells: Cells) -> ListColumn:
    end = column.role[0]
    if any(c.role in (f"{end}_enclosure",) for c in columns):
        return column
    place = _place_words(column.heading)
    what = f"The column {column.heading!r} holds ports: on which panel or enclosure are they?"
    answer = asking.ask(f"panel of column {column.key}", cells, column.heading, what, (place, LEAVE_OUT))
    if answer is None:
        return replace(column, role="", asked=f"panel of column {column.key}")
    return replace(column, role=LEAVE_OUT if answer == LEAVE_OUT else column.role, panel=answer)


def _port_or_both(
    block: Block, column: ListColumn, values: Counter[str], columns: Sequence[ListColumn], asking: Asking, cells: Cells
) -> ListColumn:  # fmt: skip
    """A port or panel column whose cells hold both: asked once whether P1/1 is panel and port, or one name."""
    end, _, bare = column.role.partition("_")
    if (
        bare not in ("port", "enclosure")
        or share(values, in_two) < ENOUGH
        or any(ports(t) and bare == "port" and numbers(t) for t in values)
    ):
        return column
    marks = {in_two(t).mark for t in values if in_two(t)}  # type: ignore[union-attr]
    if bare == "enclosure" and (marks == {" "} or marks == {"-"} or any(c.role == f"{end}_port" for c in columns)):
        return column
    if (
        bare == "port"
        and any(c.role == f"{end}_enclosure" and c.field != column.field for c in columns)
        and marks != {"/"}
    ):
        return column
    such = next(t for t in values if in_two(t))
    found = in_two(such)
    assert found is not None
    one = "a port's name" if bare == "port" else "a panel's name"
    both = f"panel {found.first}, port {found.rest}"
    key = f"both in column {column.key}"
    what = f"{such!r} under {column.heading!r}: is it {both}, or {one}?"
    answer = asking.ask(key, cells, such, what, (both, one))
    if answer is None:
        return replace(column, role="", asked=key)
    is_both = (folded(answer).startswith("panel") and folded(answer) != folded("a panel's name")) or means_yes(answer)
    return replace(column, role=f"{end}_panel_port") if is_both else column


def _named(text: str) -> bool:
    return is_label(text) and any(c.isalpha() for c in text)


def _guesses(values: Counter[str], columns: Sequence[ListColumn]) -> list[str]:
    """Return the roles that a column's values fit and that no other has, likeliest first, in words."""
    taken = {c.role for c in columns}
    order: list[tuple[str, Callable[[str], object]]] = [
        ("core_colour", colour), ("tube_core", two_colours), ("a_panel_port", in_two), ("b_panel_port", in_two),
        ("cable_core", _cable_and_core), ("core", numbers), ("tested_on", day), ("cable", _named),
        ("a_enclosure", _named),
        ("b_enclosure", _named), ("a_port", ports), ("b_port", ports), ("condition", state),
        ("loss_db", lambda t: amount(t) is not None),
    ]  # fmt: skip
    fits = [r for r, reads in order if r not in taken and share(values, reads) >= ENOUGH]
    return [ROLES[r] for r in fits]
