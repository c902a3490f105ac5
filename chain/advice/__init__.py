"""Advice on a layout, as an experienced colleague would give it: one small function a rule."""
