"""One control each, in Python and JavaScript: grid, table, picker, pictures, photos.

In come plain values; out come plain values and what the person did. Scripts and styles stand beside them.
No control knows the register's kinds or asks an analysis.
"""
