"""What a careful reader would stop at: names one letter apart, numbers out of their row, struck-out and hidden cells.

In come lines as they were read; out go questions, and which lines wait for their answers. Nothing is put right here.
"""
