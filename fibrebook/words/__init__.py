"""Labels as people write them: order, folding and matching.

In come columns of labels and single words; out go integers that are equal where labels are, and orders.
It knows no kind of record, no table of the register and no value: everybody above may ask it.
"""
