"""The sheet as it was found: what a person sees who opens the file, not only the values.

In comes a path (.xlsx, .xls, .ods, text of any separator, Markdown, HTML) or a pasted text; out go sheets whose cells
keep value, number format, fill, bold and struck-out type, note, and whether their row or column is hidden.
It means nothing by any of it: what a cell says is read in `lists`.
"""
