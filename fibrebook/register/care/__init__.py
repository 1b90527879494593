"""Looking after a register: verify, mend, rebuild, redact and tidy its files.

In comes an open register; out goes what was found, or a commit that replaces files and says so.
No record changes its meaning here, except where a person asks that something be forgotten.
"""
