"""Figures for paper and screen, one module a subject; style.py holds what they have in common."""
