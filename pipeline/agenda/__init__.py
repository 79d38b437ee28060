"""Which slot for whom: hours, slot grid, candidates, commitments, the integer program and its solution."""
