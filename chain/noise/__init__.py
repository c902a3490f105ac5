"""Noise and gain of signals: budgets, shares, their spread by tolerances.

Others use `budget.budget`, `budget.budgets`, `spread.spread` and the text of their results.
"""
