"""Anything that people hold their records in, read: workbooks, lists, instruments' files.

`files` (bytes to cells) is below `found` (the sheet with all that is seen on it) and `layouts` (a list as a layout
says), these below `guess`, `lists` (a list of any shape) and `instruments`; `bring_in` on top turns what was read into
one commit with its report. Nothing here draws, prints or answers.
"""
