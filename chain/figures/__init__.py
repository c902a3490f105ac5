"""Figures of results for paper and screen, one module a subject; `style` is common to all.

Others use the `*_figure` functions and `style.figure_file`; nothing is solved here.
"""
