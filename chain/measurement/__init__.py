"""What instruments show: analyser traces, the warm sheet, measured traces against a layout.

Others use `warm.warmed`, `analyser.traces`, `warm_sheet.sheet` and `measured_trace.against_trace`.
"""
