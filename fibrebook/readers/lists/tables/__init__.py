"""A sheet taken apart into its tables: headings of one or more rows, lines, titles, totals, legends.

In come sheets as they were found; out go tables whose columns have headings, and what each heading means by its words.
No cell's value is read here, and no row is passed over: what is in no table is a stray, and asked about.
"""
