"""A list of any shape brought in by pointing and confirming plain sentences.

In come a file or a pasted table and what a person says of it; out goes one commit, and a workbook of what is kept.
The reading itself lives in `readers.lists`: nothing here decides what a cell means.
"""
