"""What is free: spare cores and strands, routes, growth by year, the site as a schematic.

In comes a register; out goes a table of counts, strands or places.
Nothing is reserved here: an answer changes no record.
"""
