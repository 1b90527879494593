"""Paper: sheets as PDF, set from data by one template.

In come sections of plain data (`sections.py`: headings, tables, facts, pictures, each text as it was typed); out go the
bytes of a PDF. Text is never markup, nothing is fetched, no font of the machine is used: it looks the same everywhere.
Nothing is reckoned here: whoever makes a section asks the analysis that tells it.
"""
