"""What instruments show: traces, warm sheets, powers hot and cold, against a layout."""
