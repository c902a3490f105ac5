"""Resistors that tones warm above their stage."""


def hot_temperatures(layout):
    """Return {id: K} of the noise of elements whose own resistors warm with what they absorb.

    Only those of which the layout says how; an empty dict without them, and without any tone.
    """
    hot = [e for e in layout.elements.values() if e.kind.has_hot_resistor(e.settings)]
    if not hot or not layout.tones:
        return {}
    absorbed_w = layout.power().absorbed_w
    return {
        element.id: element.kind.hot_k(
            element.settings, temperature_k=layout.temperature_k(element),
            absorbed_w=absorbed_w.get(element.id, 0.0),
        )
        for element in hot
    }
