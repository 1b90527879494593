"""What an instrument saw: event tables of a reflectometer, read and stored with a test.

In comes an instrument's export; out go rows of tests and events.
A reading is stored as it was measured; it is judged elsewhere.
"""
