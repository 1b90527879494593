"""Editions of the standards by which loss tests are judged.

Here the stricter is not the default: an edition takes the place of those before it, so of one standard the newest goes
first. ISO/IEC 14763-3 allows more at the ends of a permanent link since its corrigendum of 2015 than before, TIA-568.3
more for multimode since its edition E. Whoever is bound to an older or stricter one chooses it by its name.
"""

from __future__ import annotations

from fibrebook.errors import ValueSourceError
from fibrebook.reference.firm import PUBLISHED, FirmValues
from fibrebook.words.nearest import did_you_mean

# Standard, newest edition first: as `choice` in the table component_losses.
ACCEPTANCE = {
    "ISO/IEC 14763-3": ("ISO/IEC 14763-3:2014/Cor 1", "ISO/IEC 14763-3:2014", "ISO/IEC 14763-3:2006"),
    "TIA-568.3": ("TIA-568.3-E", "TIA-568.3-D"),
}
EDITIONS = tuple(edition for editions in ACCEPTANCE.values() for edition in editions)
NAMES = (*ACCEPTANCE, *EDITIONS)  # what may be chosen; a standard without its edition is the newest


def acceptance_edition(name: str, *, values: FirmValues = PUBLISHED) -> str:
    """Return the edition that a name stands for: itself; of a standard, that among the firm's sources, else the newest.

    Raises ValueSourceError, with the nearest names, where it is neither.
    """
    if name in EDITIONS:
        return name
    if name not in ACCEPTANCE:
        raise ValueSourceError(f"there is no acceptance by {name!r}; {did_you_mean(name, list(NAMES))}")
    return next((source for source in values.sources if source in ACCEPTANCE[name]), ACCEPTANCE[name][0])


def standard_of(edition: str) -> str:
    """Return the standard of an edition."""
    return next(standard for standard, editions in ACCEPTANCE.items() if edition in editions)
