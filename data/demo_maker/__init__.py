"""Makes the demo firm's workbooks: an invented firm's own records of the fibre it has cabled."""
