"""The page of a site: one file that a phone opens without signal, all of it to be read without JavaScript."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fibrebook.sheets.rendering import colour_names, render, stand
from fibrebook.sheets.site_facts import folded_ports, site_facts

if TYPE_CHECKING:
    from fibrebook.register import Register


def site_page(reg: Register, site: str, contacts: bool = False) -> str:
    """Return one HTML file that tells a site: cores and ways, panels and trays as they lie open, what goes dark, snags.

    Nothing is fetched. With JavaScript there is a search besides; without it everything is read through the index and
    by opening what is folded.

    Parameters
    ----------
    site : label of the site
    contacts : whether the page names whom to ask for; left out otherwise, for a page travels

    Returns
    -------
    The text of the file (UTF-8, "\\n" between lines). Units as the records have them: m, dB.

    Raises
    ------
    NotFoundError : there is no such site; the message names the nearest
    """
    facts = site_facts(reg, site)
    for enclosure in facts.enclosures:
        enclosure.ports = folded_ports(enclosure.ports)
    return render("site_page.html", site=facts, contacts=contacts, stand=stand(reg), colours=colour_names())
