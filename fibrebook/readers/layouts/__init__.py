"""A list read as a layout says: the layout's file, its keys, lines, values and patterns.

In come cells and a layout; out go rows of kinds of record, each with the place that it was read from.
What a layout does not say is not guessed here.
"""
