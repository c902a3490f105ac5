"""Networks that are copies of each other, so that one solution serves them all."""


def copy_key(layout, ids, *, heated_k):
    """Return a key that two networks (`ids` in layout order) share only if they solve alike.

    Copies share the very Settings of their elements; what else decides is temperatures and joints.
    `heated_k` ({id: K}) is what tones warm; nothing where only scattering is asked.
    """
    place = {key: number for number, key in enumerate(ids)}
    return tuple(
        _element_key(layout, layout.elements[key], place, heated_k.get(key)) for key in ids
    )


def _element_key(layout, element, place, heated_k):
    joints = []
    for port in element.ports:
        other, its_port = layout.partners[element.id, port]
        joints.append((place[other], its_port))
    return (
        id(element.settings), element.enter, element.leave,
        heated_k or layout.temperature_k(element),
        layout.anchors(element), tuple(joints),
    )


def position(ids, signal):
    """Return where a signal starts and ends in a network, by place and port."""
    start = signal.from_port
    return (
        None if start is None else (ids.index(start[0]), start[1]),
        (ids.index(signal.to_port[0]), signal.to_port[1]),
    )
