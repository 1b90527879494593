"""One cell read as its column's role says; what can be read in two ways, or not at all, says why."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from fibrebook.readers.guess.headings import fibre_class_of
from fibrebook.readers.lists.asking import Asking
from fibrebook.readers.lists.columns import ListColumn
from fibrebook.readers.lists.values.amounts import IN_USE, amount, day, speaks_of_fault, state
from fibrebook.readers.lists.values.cell_readers import OneCell, Unread
from fibrebook.readers.lists.values.colours import colour, has_mark, two_colours
from fibrebook.readers.lists.values.numbers import in_two, number_and_colour, numbers, ports, says_nothing
from fibrebook.words.labels import folded

_DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})")
_OTHER = re.compile(
    r"\b(core|fibre|fiber|port|strand|ader|faser)s?\s*\d|\b(swap|cross|moved|wrong|vertauscht)", re.IGNORECASE
)
DAY_FIRST, MONTH_FIRST = "day first", "month first"


def read_cell(column: ListColumn, text: str, asking: Asking, cell: Any) -> OneCell | Unread:
    """Read a cell's text as its column's role."""
    role = column.role
    if not role:
        return Unread("stands in a column that is not known")
    bare = role[2:] if role[:2] in ("a_", "b_") else role
    if says_nothing(text) and bare not in ("remark", "condition", "reserved_for", "site"):
        return OneCell()
    turned = _DATE.fullmatch(text)
    if turned and bare in ("core", "port", "panel_port", "tube", "tube_core"):
        month, day_ = int(turned[2]), int(turned[3])
        ways = tuple(dict.fromkeys(f"{a}-{b}" for a, b in ((day_, month), (month, day_)) if a < b))
        return Unread("was turned into a date by the spreadsheet: what was written there?", ways)
    if column.place and bare == "enclosure":
        if folded(text).startswith("panel "):
            return OneCell({role: " ".join(text.split()[1:])})
        if not re.search(r"\d", text) and len(re.findall(r"[^\W\d_]", text)) > 3 and not text.isupper():
            return Unread("may be a place and not a panel: which panel or enclosure is there?", (f"panel {text}",))
    found = asking.readers.read(bare, text, role)
    if found is not None:
        return found
    if bare in ("tested_on", "installed_on"):
        return _day(text, role, column, asking, cell)
    return OneCell({role: " ".join(text.split())})


def core_said(text: str, role: str) -> OneCell | Unread:
    """Read numbers of cores, or a core by its colour."""
    found, both = numbers(text), number_and_colour(text)
    if found:
        return (
            OneCell(several={"core": found.values})
            if 0 not in found.values
            else Unread("is no core number: they begin at 1")
        )
    if both:
        return OneCell({"core_colour": both[1]}, {"core": (both[0],)})
    if colour(text):
        return OneCell({"core_colour": colour(text)})
    return Unread("is no core number")


def cable_core_said(text: str, role: str) -> OneCell | Unread:
    """Read a cable and cores of it."""
    found = in_two(text)
    cores = numbers(found.rest) if found else None
    if not found or not cores:
        return Unread("is no cable with a core")
    return OneCell({"cable": found.first}, {"core": cores.values})


def tube_said(text: str, role: str) -> OneCell | Unread:
    """Read a tube by its number or colour."""
    plain = re.sub(r"(?i)^(tube|ring|bündel|t)\s*", "", text)
    found, both = numbers(plain), number_and_colour(plain)
    if found and len(found.values) == 1:
        return OneCell({"tube": found.values[0]})
    if both:
        return OneCell({"tube": both[0], "tube_colour": both[1]})
    return OneCell({"tube_colour": colour(text)}) if colour(text) else Unread("is no number of a tube")


def tube_core_said(text: str, role: str) -> OneCell | Unread:
    """Read a tube and a core in it."""
    found = two_colours(text)
    if found:
        return OneCell({"tube_colour": found[0], "core_colour": found[1]})
    parts = re.fullmatch(r"(?i)(?:tube|t)?\s*(\d{1,3})\s*[/.:-]\s*(?:core|f|c)?\s*(\d{1,3})", text.strip())
    if parts:
        return OneCell({"tube": int(parts[1]), "in_tube": int(parts[2])})
    mixed = re.fullmatch(r"\s*([^/]+?)\s*/\s*([^/]+?)\s*", text)
    if mixed and colour(mixed[1]) and (cores := numbers(mixed[2])) and len(cores.values) == 1:
        return OneCell({"tube_colour": colour(mixed[1]), "in_tube": cores.values[0]})
    return Unread("is no tube with a core")


def core_pair_said(text: str, role: str) -> OneCell | Unread:
    """Read two colours, of two cores."""
    found = two_colours(text)
    return OneCell(several={"core_colour": found}) if found else Unread("is no pair of colours")


def colour_said(text: str, role: str) -> OneCell | Unread:
    """Read a colour, of a core or of a tube."""
    found, both = colour(text), number_and_colour(text)
    if found:
        return OneCell({role: found, f"{role}_marked": has_mark(text)})
    if both:
        return OneCell({role: both[1]})
    return Unread("is no colour that is known")


def panel_port_said(text: str, role: str) -> OneCell | Unread:
    """Read a panel and ports of it."""
    found = in_two(text)
    labels = ports(found.rest) if found else None
    if not found or not labels:
        return Unread("is no panel with a port")
    return OneCell({f"{role[0]}_enclosure": found.first}, {f"{role[0]}_port": labels})


def port_said(text: str, role: str) -> OneCell | Unread:
    """Read labels of ports."""
    found = ports(text)
    if found:
        return OneCell(several={role: found})
    plain = " ".join(text.split())
    return OneCell(several={role: (plain,)}) if in_two(plain) else Unread("is no port")


def count_said(text: str, role: str) -> OneCell | Unread:
    """Read how many cores there are, or in each tube."""
    found = re.fullmatch(
        r"(\d{1,4})\s*(?:x|f|fo|c|core|cores|fibres|fibers|adern|fasern)?\.?", text.strip(), re.IGNORECASE
    )
    product = re.fullmatch(r"(\d{1,3})\s*[x×]\s*(\d{1,3})", text.strip(), re.IGNORECASE)
    if found and 0 < int(found[1]) <= 1728:
        return OneCell({role: int(found[1])})
    if product and role == "core_count":
        return OneCell({role: int(product[1]) * int(product[2]), "cores_per_tube": int(product[2])})
    return Unread("is no number of cores")


def length_said(text: str, role: str) -> OneCell | Unread:
    """Read a length in metres."""
    found = amount(text)
    if found is not None and found >= 0:
        return OneCell({role: found})
    plain = re.sub(r"[^\d.,]", "", text)
    ways = (
        (plain.replace(".", "").replace(",", ""), plain.replace(",", "."))
        if re.fullmatch(r"\d{1,3}[.,]\d{3}", plain)
        else ()
    )
    return Unread("can be read in two ways, or is no length", ways)


def loss_said(text: str, role: str) -> OneCell | Unread:
    """Read a loss in dB."""
    found = amount(text)
    if found is not None and -2 <= found <= 40:
        return OneCell(loss=found)
    figure = re.search(r"\d+(?:[.,]\d+)?", text)
    return Unread("is no plain loss in dB", (figure[0],) if figure else ())


def fibre_class_said(text: str, role: str) -> OneCell | Unread:
    """Read a fibre class."""
    found = fibre_class_of(text)
    return OneCell({role: found}) if found else Unread("is no fibre class that is known", ("OS2", "OM3", "OM4"))


def condition_said(text: str, role: str) -> OneCell | Unread:
    """Read the condition of a core."""
    found = state(text)
    if found is None:
        if folded(text) in IN_USE:
            return OneCell(notes=[" ".join(text.split())])
        return Unread("is no condition that is known", ("faulty", "sound"))
    single: dict[str, Any] = {}
    if found.condition:
        single["condition"] = found.condition
    if found.fault_m is not None:
        single["fault_m"] = found.fault_m
    if found.reserved_for:
        single["reserved_for"] = found.reserved_for
    return OneCell(single)


def remark_said(text: str, role: str) -> OneCell | Unread:
    """Read a note; one that may say more is not taken for a note."""
    found = state(text)
    if found and (found.condition == "faulty" or found.reserved_for):
        return condition_said(text, role)
    if found or says_nothing(text):
        return OneCell()
    if speaks_of_fault(text) or _OTHER.search(text):
        return Unread("may say more than a note does: is it only a note, or is the core faulty?", ("note", "faulty"))
    return OneCell(notes=[" ".join(text.split())])


def position_said(text: str, role: str) -> OneCell | Unread:
    """Read a position on an adaptor."""
    plain = text.strip().upper()
    return OneCell({role: plain}) if len(plain) <= 4 else Unread("is no position")


def _day(text: str, role: str, column: ListColumn, asking: Asking, cell: Any) -> OneCell | Unread:
    found = day(text)
    if found is None:
        return Unread("is no full date", ())
    value: dt.date | None = found.day
    if found.other:
        what = (
            f"{text!r} under {column.heading!r}: does the day stand first ({found.day}) or the month ({found.other})?"
        )
        answer = asking.ask(f"dates under {column.heading!r}", [cell], text, what, (DAY_FIRST, MONTH_FIRST))
        value = None if answer is None else found.other if folded(answer) == MONTH_FIRST else found.day
    return OneCell({role: value} if value else {})
