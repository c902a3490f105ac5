"""Designing and judging a line: layouts compared, single failures.

Others use `comparison.compare` and `comparison.each_failure`, and their text.
"""
