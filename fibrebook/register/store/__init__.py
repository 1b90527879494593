"""What a commit says: its state, the numbered log, the times of commits, formats and their shape.

In comes JSON of one commit; out goes the state it stands for, by which files the rows of each site are found.
It knows no row, no edit, no merge and no rule.
"""
