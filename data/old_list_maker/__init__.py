"""Makes lists in the shapes in which firms keep them before they have a register: all invented."""
