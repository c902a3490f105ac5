"""Elements joined at given frequencies: assembly, the one linear solve, its laws."""
