"""Everything worth a second look: checks that look at a site and yield lines of advice.

In comes a `Situation`, the site with its losses; out go `Advice` rows with thing, what and why.
A check never refuses a commit (that is a hard rule) and never changes a record.
"""
