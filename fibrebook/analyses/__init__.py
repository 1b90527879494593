"""Floor 3: a register in, an answer out. Each analysis marries what the plant says with what the light says."""
