"""What comes in and goes back: bring in a list, bring back a copy.

In come a register and a file or a copy; out goes one commit, after the person has seen what it would change.
Files are read by `readers`; nothing is parsed here.
"""
