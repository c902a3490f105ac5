"""Which networks solve alike, so that one solution serves them all.

What is drawn alike is another question, that of `chain.layout.equal_lines`.
"""

from collections.abc import Iterable

from chain.layout.layout import Element, Layout, Port, Signal, Tone
from components.heating import Heated


def copy_key(
    layout: Layout, ids: Iterable[str], *, heated: Heated,
    parted: frozenset[Port] = frozenset(),
) -> tuple:
    """Return a key that two networks (`ids` in layout order) share only if they solve alike.

    Copies share the very Settings of their elements; what else decides is temperatures and joints.
    `heated` is what tones warm; nothing where only scattering is asked.  `parted` are
    ports whose joints are open.
    """
    place = {key: number for number, key in enumerate(ids)}
    elements = tuple(
        _element_key(layout, layout.elements[key], place, heated.get(key), parted)
        for key in place
    )
    noisy = tuple(
        _sent_key(tone, place) for tone in layout.noisy_tones if tone.into in place
    )
    return (elements, noisy) if noisy else elements


def _sent_key(tone: Tone, place):
    """Return what decides what a tone's generator sends, and where."""
    wanted = None
    if tone.arriving is not None:
        (key, port), watt = tone.arriving
        # With a joint open it may lie in another part: then no copy is like it.
        wanted = place.get(key, key), port, watt
    return (
        place[tone.into], wanted, tone.frequency_hz, tone.power_w, tone.count, tone.spacing_hz,
        tone.noise,
    )


def _element_key(layout: Layout, element: Element, place, heated, parted):
    joints: list[tuple[int, str] | None] = []
    for port in element.ports:
        if (element.id, port) in parted:
            joints.append(None)
            continue
        other, its_port = layout.partners[element.id, port]
        joints.append((place[other], its_port))
    return (
        id(element.settings), element.enter, element.leave,
        layout.temperature_k(element), layout.anchors(element), tuple(joints), heated,
    )


def equal_networks(
    layout: Layout, networks: Iterable[tuple[str, ...]], *, heated: Heated
) -> list[list[tuple[str, ...]]]:
    """Return networks (each its ids in layout order) in groups that solve alike, in their order."""
    groups = {}
    for ids in dict.fromkeys(networks):
        groups.setdefault(copy_key(layout, ids, heated=heated), []).append(ids)
    return list(groups.values())


def position(ids: tuple[str, ...], signal: Signal) -> tuple:
    """Return where a signal starts and ends in a network, by place and port."""
    start = signal.from_port
    return (
        None if start is None else (ids.index(start[0]), start[1]),
        (ids.index(signal.to_port[0]), signal.to_port[1]),
    )


def signal_keys(
    layout: Layout, signals: Iterable[Signal], *, heated: Heated
) -> dict[str, tuple]:
    """Return by name a key that signals share only if networks and places in them are equal."""
    networks, found = {}, {}
    for signal in signals:
        ids = layout.connected(signal.to_port[0])
        if ids[0] not in networks:
            networks[ids[0]] = copy_key(layout, ids, heated=heated)
        found[signal.name] = networks[ids[0]], position(ids, signal)
    return found


def tone_key(layout: Layout, tone: Tone) -> tuple:
    """Return a key that two tones share only if the same goes the same way in their networks."""
    ids = layout.connected(tone.into)
    place = {key: number for number, key in enumerate(ids)}
    return copy_key(layout, ids, heated={}), *_sent_key(tone, place), tone.duty
