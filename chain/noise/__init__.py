"""Noise and gain of signals: budgets, shares, their spread by tolerances."""
