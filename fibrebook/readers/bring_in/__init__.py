"""What was read, into one commit: compared with the register, reported row by row.

In come sheets, a layout if need be, and who brings what and why; out goes a report, and a commit if all is well.
Half a file is never committed.
"""
