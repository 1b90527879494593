"""The plant of one site, or of all, as an answer sees it: records, network, the firm's values, names.

In comes a register at one commit; out goes what every answer, picture and screen starts from.
It answers no question about the plant, and writes nothing.
"""
