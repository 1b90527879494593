"""Rows of some sites as one immutable Parquet file: written, read, and parted by site.

In come tables of the declared kinds; out go files named by their digest and, read again, the same tables.
Tables that no plugin declares any more are carried along unread. No edit is known here and no rule is judged.
"""
