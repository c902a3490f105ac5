"""What instruments show: analyser traces, warm sheets, measured data against a layout."""
