"""Results as the face gives them: each the dataclass of its room, and how Python shows it.

`shown.Shown` is common to all: a short table for `repr` and notebooks, rows, CSV, a figure, JSON.
Others use the classes of the modules, one module a subject; nothing is solved here.
"""
