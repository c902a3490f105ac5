"""The ports of an element, and by which of them a line comes in and goes on."""

from chain.reading.nodes import Sequence
from chain.reading.problems import MistakeError
from chain.suggestions import choose, listed, shown
from components.parameters import ParameterError, PerPort, PortList, PortName
from components.touchstone import DataError

_NUMBERED = {"1": "in", "2": "out"}


def ports_of(id, kind, settings, found, node):
    """Return the element's ports; raises MistakeError.

    Every port that its values name is checked, and put by the name that the kind has for it.
    """
    try:
        ports = tuple(kind.ports(settings))
    except (ParameterError, DataError) as error:
        place = found.places.get(getattr(error, "parameter", "data"), node.place)
        raise MistakeError(place, f"{id}: {error.what}", error.instead) from error
    for parameter in kind.declared().values():
        name = parameter.name
        if name not in found.values or type(parameter.reads) not in _NAMED:
            continue
        called = {}
        for text, place in _named_ports(parameter, found):
            called[text] = port_called(text, ports, settings)
            if called[text] is None:
                raise no_port(place, id, text, ports, f"{id}.{name}: ")
        found.values[name] = _NAMED[type(parameter.reads)](found.values[name], called)
    return ports


_NAMED = {
    PortName: lambda value, called: called[value],
    PortList: lambda value, called: tuple(called[text] for text in value),
    PerPort: lambda value, called: {called[text]: said for text, said in value.items()},
}
"""Values that name ports, each with how it is put into the kind's own names."""


def _named_ports(parameter, found):
    value, node = found.values[parameter.name], found.nodes[parameter.name]
    if isinstance(parameter.reads, PortName):
        return [(value, node.place)]
    if isinstance(parameter.reads, PortList):
        items = node.items if isinstance(node, Sequence) else [node]
        return [(item.text, item.place) for item in items]
    return [(text, key.place) for text, (key, _) in node.entries.items() if text in value]


def port_called(text, ports, settings):
    """Return the port that a text names, or None; a Touchstone two-port's are also 1 and 2."""
    if text in ports:
        return text
    if ports == ("in", "out") and settings.given("data"):
        return _NUMBERED.get(text)
    return None


def no_port(place, id, text, ports, before=""):
    """Return the MistakeError for a port that an element does not have."""
    return MistakeError(
        place, f"{before}{id} has no port {shown(text)}", choose(text, ports, "ports")
    )


def route_of(id, kind, settings, ports, found):
    """Return the ports by which a line enters and leaves; raises MistakeError.

    Where one port alone is free, it is both.  None: that port carries a load, or there is none.
    """
    if not ports:
        return None, None
    loads = settings["loads"] or ()
    free = [port for port in ports if port not in loads]
    enter, leave = kind.default_route(settings)
    asked = {key: found.values[key] for key in ("enter", "leave") if key in found.values}
    backward = settings["reversed"] and leave is not None
    if backward and len(asked) == 1:
        [given] = asked
        raise MistakeError(
            found.places[given], f"{id} is reversed, and {given} names one of its ports alone",
            "give enter and leave as they are without `reversed`, or leave `reversed` out",
        )
    if backward and not asked:
        enter, leave = leave, enter
    for key, port in asked.items():
        if port in loads:
            raise MistakeError(
                found.places[key], f"{id}.{key}: the port {port!r} carries a load",
                "take it out of loads, or name another port",
            )
    if len(free) == 1:
        return free[0], free[0]
    enter, leave = _override(id, asked, enter, leave, ports, found)
    if backward and asked:
        enter, leave = leave, enter
    return (enter if enter not in loads else None), (leave if leave not in loads else None)


def _override(id, asked, enter, leave, ports, found):
    """Return the route with what `enter` and `leave` say."""
    new_enter, new_leave = asked.get("enter", enter), asked.get("leave", leave)
    if new_enter != new_leave:
        return new_enter, new_leave
    if len(asked) == 2:
        raise MistakeError(
            found.places["leave"], f"{id} is entered and left by the same port {new_enter!r}",
            f"name another; there are {listed(ports)}",
        )
    if len(ports) == 2:
        other = ports[1] if new_enter == ports[0] else ports[0]
        return (new_enter, other) if "enter" in asked else (other, new_leave)
    [given] = asked
    missing = "leave" if given == "enter" else "enter"
    raise MistakeError(
        found.places[given],
        f"{id} is {'entered' if given == 'enter' else 'left'} by {asked[given]!r}, which is where "
        f"it is {'left' if given == 'enter' else 'entered'} unless the layout states otherwise",
        f"add `{missing}:`, one of {listed(port for port in ports if port != asked[given])}",
    )
