"""Advice on a layout, as an experienced colleague would give it: one small function a rule.

Others use `check.check` (a layout to an Advice) and `findings`; a rule sees an `Inspection`.
"""
