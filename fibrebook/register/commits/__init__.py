"""One commit: what a person wants changed, merged with what others did, judged and written.

In come rows of an edit; out goes a commit number, a conflict to decide or the rule that would be broken.
It knows files only through the store, and never says "saved" of what is not committed.
"""
