"""Hand-over: the pack that a customer gets, one PDF of all that is told of a site.

In come a register, a site and what the firm adds (a period, a warranty, calibration dates); out goes a PDF on paper.
Every figure comes from the analysis that tells it; nothing is reckoned here, and nothing of another's premises told.
"""

from fibrebook.sheets.hand_over.pack import hand_over

__all__ = ["hand_over"]
