"""What there is: every kind of record with its columns, ours and a plugin's.

In come declarations (`Kind`, `Column`, `Link`), our own, the firm's values and what plugins give; out goes `KINDS`.
Declarations only: no value is turned into a column here and no rule is judged.
"""
