"""Designing and judging a line: layouts compared, failures, arrangements."""
