"""What elements and stages are called in text."""




def called(layout, ids):
    """Return what elements are called together: `W1`, `V1-1 .. V1-12 (12 copies)`, `W1, W2`."""
    groups = {}
    for key in ids:
        line = layout.lines[layout.elements[key].line]
        alike = (line.copy_of, key.rpartition("-")[0]) if line.copy_of else (None, key)
        groups.setdefault(alike, []).append(key)
    return ", ".join(
        keys[0] if len(keys) == 1 else f"{keys[0]} .. {keys[-1]} ({len(keys)} copies)"
        for keys in groups.values()
    )


def where_text(element):
    """Return the stage or stages of an element as text names them."""
    if element.from_stage is None:
        return element.stage or "no stage"
    return f"{element.from_stage} to {element.to_stage}"
