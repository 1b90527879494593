"""Cells to columns: what people and files give, as typed columns of a kind, and back as a DataFrame.

In come rows, DataFrames or Arrow tables; out go Arrow tables in the declared columns, or problems by cell.
Nothing is guessed that is not said, and no rule between records is judged here.
"""
