"""What every screen stands on: register and site, drafts, watching for commits, conflicts, the
contract of a section.

In come a register and what a screen shows; out goes a screen that says what is wrong and loses nothing typed.
It knows no job: no single section, no analysis and no kind of record is named here.
"""
