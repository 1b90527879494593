"""Templates and colours of the sheets: text is escaped wherever it goes in, a colour is always a word as well."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from jinja2.utils import htmlsafe_json_dumps
from markupsafe import Markup

from fibrebook.drawings.fibre import Coat, coats
from fibrebook.drawings.svg import clean
from fibrebook.reference.colours import codes, order

if TYPE_CHECKING:
    from fibrebook.register import Register

EYES = (
    "Never look into a fibre or a port: the light is invisible and can harm the eye. "
    "Use a power meter or a detector card. Local rules and licensed practice go before this sheet."
)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("fibrebook.sheets"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, finalize=_as_text,
    )  # fmt: skip
    made.filters["fibre"] = fibre
    return made


def _as_text(value: object) -> object:
    """What goes into a sheet: nothing is blank, a day is ISO, no character that cannot be shown."""
    if value is None or value != value:
        return ""
    if isinstance(value, Markup):
        return value
    if isinstance(value, dt.datetime | dt.date):
        return value.strftime("%Y-%m-%d")
    return clean(value)


def render(template: str, **content: Any) -> str:
    """Return a template filled in; every text is escaped."""
    return _environment().get_template(template).render(eyes=EYES, **content)


def fibre(words: object) -> Markup:
    """Return ``blue tube, orange core`` with a chip of each colour before its words."""
    if not isinstance(words, str) or not words:
        return Markup("")
    drawn = coats(words)
    out = []
    for piece in words.split(", "):
        part = piece.partition(" with ")[0].rpartition(" ")[2]
        out.append(Markup("{}{}").format(_chip(drawn.get(part)), clean(piece)))
    return Markup(", ").join(out)


def _chip(coat: Coat | None) -> Markup:
    if coat is None:
        return Markup("")
    stripe = Markup('<b style="background:{}"></b>').format(coat.tracer) if coat.tracer else Markup("")
    return Markup('<i style="background:{}">{}</i>').format(coat.colour, stripe)


def colour_names() -> Markup:
    """Return the colour words that a search knows, as JSON that may stand in a script element."""
    return htmlsafe_json_dumps(sorted({word.casefold() for code in codes() for word in order(code)}))


def stand(reg: Register) -> Mapping[str, str]:
    """Return what tells of which state a sheet is: the register's name, its commit and the day of that commit."""
    day = str(reg.committed_utc)[:10]
    return {"register": clean(reg.name), "commit": str(reg.commit), "day": day}
