"""The heat load of stages, their cooling power and their steady state.

Others use `stages.heat` (a Heat), `steady_state.at_steady_state` and `more_lines.more_lines`.
"""
