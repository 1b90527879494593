"""What an unknown list means: its header, its columns, and a layout that says so.

In come sheets without a layout; out goes a guess with its reasons, and the layouts that people kept.
A guess is never brought in before a person has agreed to it.
"""
