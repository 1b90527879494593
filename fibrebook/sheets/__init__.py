"""Sheets: what is handed out or carried along, as one file that opens anywhere.

In come a register and the answers of the analyses; out goes the text of a file. A sheet reckons nothing itself, writes
no record and fetches nothing; whatever people typed is text in it, never markup.
"""

from fibrebook.sheets.next_visit import next_visit
from fibrebook.sheets.site_page import site_page

__all__ = ["next_visit", "site_page"]
