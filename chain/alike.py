"""Networks that are copies of each other, so that one solution serves them all."""


def likeness(layout, ids, *, heated=True):
    """Return a key that two networks (`ids` in layout order) share only if they solve alike.

    Copies share the very Settings of their elements; what else decides is temperatures and joints.
    `heated` False leaves out what tones do to resistors, which does not change how waves scatter.
    """
    place = {key: number for number, key in enumerate(ids)}
    kelvin = layout.emitting_k if heated else layout.temperature_k
    return tuple(_element_likeness(layout, layout.elements[key], place, kelvin) for key in ids)


def _element_likeness(layout, element, place, kelvin):
    joints = []
    for port in element.ports:
        other, its_port = layout.partners[element.id, port]
        joints.append((place[other], its_port))
    return (
        id(element.settings), element.enter, element.leave, kelvin(element),
        layout.anchors(element), tuple(joints),
    )


def position(ids, signal):
    """Return where a signal starts and ends in a network, by place and port."""
    start = signal.from_port
    return (
        None if start is None else (ids.index(start[0]), start[1]),
        (ids.index(signal.to_port[0]), signal.to_port[1]),
    )
