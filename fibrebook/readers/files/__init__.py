"""Bytes to cells to rows: .xlsx, .ods and .csv, each cell knowing where it stood.

In comes a path that nobody vouches for; out come sheets within limits, or what is wrong with the file.
It opens nothing that a file points to and runs nothing that a file holds.
"""
