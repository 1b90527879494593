"""Record a visit: the sections in the order of the work, kept as a draft until it is saved.

In come a register, a site and what a person types; out goes one commit of the whole visit.
What typed things mean as rows stands in `rows`; widgets are made in `screens.widgets`.
"""
