"""What instruments show: traces, warm sheets, powers with a load hot and cold, against a layout.

Others use `warm.warmed`, `analyser.traces`, `warm_sheet.sheet`, `measured_trace.against_trace`,
`reduce.reduce`, `plan.plan` and `pump_grid`.
"""
