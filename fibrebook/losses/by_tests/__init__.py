"""What was measured, in place of what the records say: loss tests of stretches.

In come the table of losses and the rows of tests; out go each test's limit and verdict, and which tests count on which
path, wavelength and direction. What a test loses is decided here once, for acceptance and for every teller of a loss.
"""
