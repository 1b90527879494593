"""A firm's own list, of any shape, to records that a person confirms by plain sentences.

In come sheets as they were found, what a person said by pointing, and answers; out go records with the cells that they
come from, questions, and a ledger: every cell that is not blank is used, left out by a named rule, or a question.
Pure data: nothing here opens a register or draws. Nothing is asserted of which a sentence was not asked.
"""
