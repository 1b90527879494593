"""Where a register stands: a folder on a disk or a bucket, as names and bytes.

In come names and bytes; out come the same bytes, or an error that says what the place did.
It knows nothing of records, commits or Parquet.
"""
