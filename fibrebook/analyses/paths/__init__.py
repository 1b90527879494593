"""What is joined to what: the trace, the cross reference, what goes dark, polarity, panel and tray.

In come a register and a thing of the plant; out goes a table of elements, cores or channels.
The network is walked by `plant`, never here.
"""
