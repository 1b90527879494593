"""What was typed in a visit, as rows of an edit: cords, joints, panels and readings.

In come plain values of a section; out go rows as `edit.put` takes them, or what is wrong with a cell.
No widget is imported here.
"""
