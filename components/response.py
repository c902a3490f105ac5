"""What an element does as it stands: its kind's matched response, its file, its faults."""

from dataclasses import replace

import numpy as np

from components.active import ACCEPTED_NOISE, active_two_port
from components.heating import UNHEATED
from components.memory import Memory
from components.nport import NPort, behind_reflector, loaded, magnitude2
from components.parameters import ParameterError
from components.phases import reflection_phase, turned_as_given
from components.quantities import power_ratio
from components.touchstone import DataError

MEMORY = Memory()


def respond(kind, settings, at):
    """Return the NPort of an element at the conditions `at`, as the layout describes it.

    State first (bypassed, open, shorted), then the file or the kind's own response, then extra
    loss, reflections of unknown phase and matched loads.  Raises ParameterError.
    """
    return MEMORY.recall(kind, settings, (at,), lambda: _respond(kind, settings, at))


def _respond(kind, settings, at):
    return turned_as_given(_as_it_stands(kind, settings, at), kind, settings)


def _as_it_stands(kind, settings, at):
    nport = _broken(kind, settings)
    if nport is not None:
        return _finished(nport, settings, at, mismatch=False)
    if settings.given("data") and settings["state"] == "ok":
        return _finished(_from_file(kind, settings, at), settings, at, mismatch=False)
    mismatch = not kind.holds_reflections(settings)
    return _finished(kind.respond(settings, at), settings, at, mismatch=mismatch)


def respond_with_idler(kind, settings, at, at_idler):
    """Return the NPort of a pumped paramp over signal and idler waves; see `respond`."""
    return MEMORY.recall(
        kind, settings, (at, at_idler),
        lambda: _respond_with_idler(kind, settings, at, at_idler),
    )


def _respond_with_idler(kind, settings, at, at_idler):
    nport = kind.respond_with_idler(settings, at, at_idler)
    half = len(nport.ports) // 2
    for offset, here in ((0, at), (half, at_idler)):
        indices = range(offset, offset + half)
        nport = _lossier(nport, settings, here, indices)
        nport = _mismatched(nport, settings, here, indices)
    for port in settings["loads"] or ():
        for here in (at, at_idler):  # the signal's wave stands first
            nport = loaded(nport, nport.ports.index(port), here.emitted_by_load(port))
    return turned_as_given(nport, kind, settings)


def respond_to_pump(kind, settings, at):
    """Return the NPort of a paramp at its pump's frequency; see `respond`."""
    nport = _finished(kind.respond_to_pump(settings, at), settings, at, mismatch=True)
    return turned_as_given(nport, kind, settings)


def _finished(nport, settings, at, *, mismatch):
    indices = range(len(nport.ports))
    nport = _lossier(nport, settings, at, indices)
    if mismatch:
        nport = _mismatched(nport, settings, at, indices)
    for port in settings["loads"] or ():
        nport = loaded(nport, nport.ports.index(port), at.emitted_by_load(port))
    return nport


def _mismatched(nport, settings, at, indices):
    size = settings.lets_through("return_loss", at)
    if size is None:
        return nport
    for index in indices:
        port = nport.ports[index]
        reflection = size * reflection_phase(settings, at, port)
        if nport.sidebands[index] < 0:
            reflection = np.conj(reflection)
        nport = behind_reflector(nport, index, reflection)
    return nport


def _lossier(nport, settings, at, indices):
    """Put half of the extra loss at each port, so that every path through meets all of it.

    The loss of the connector there comes on top.
    """
    if not (settings.given("extra_loss") or settings.given("connector_loss")):
        return nport
    loss_db = np.asarray(settings.at("extra_loss", at)) / 2.0
    if settings.given("connector_loss"):
        loss_db = loss_db + np.asarray(settings.at("connector_loss", at))
    each = np.sqrt(power_ratio(-loss_db))
    for index in indices:
        nport = behind_pad(nport, index, each, at.emitted)
    return nport


def behind_pad(nport, index, amplitude, emitted):
    """Return `nport` with a matched pad of the given amplitude in front of port `index`.

    The pad emits (1 - amplitude^2) `emitted` both ways, uncorrelated.
    """
    own = (1.0 - amplitude**2) * emitted
    s, result = nport.scattering, {}
    for (i, j), entry in s.items():
        result[i, j] = entry * amplitude ** ((i == index) + (j == index))
    c = {}
    for (i, j), entry in nport.emission.items():
        c[i, j] = entry * amplitude ** ((i == index) + (j == index))
    fed = {i: s[i, index] * (amplitude if i == index else 1.0)
           for i in range(len(nport.ports)) if (i, index) in s}
    for i, into in fed.items():
        for j, other in fed.items():
            if i <= j:
                term = (magnitude2(into) if i == j else into * np.conj(other)) * own
                c[i, j] = c[i, j] + term if (i, j) in c else term
    c[index, index] = c.get((index, index), 0.0) + own
    return NPort(nport.ports, result, c, nport.sidebands)


def _broken(kind, settings):
    """Return the NPort of an element that is bypassed, open or shorted, or None."""
    state, ports = settings["state"], kind.ports(settings)
    if state not in ("bypassed", "open", "shorted"):
        return None
    s = {(i, i): -1.0 if state == "shorted" else 1.0 for i in range(len(ports))}
    enter, leave = kind.default_route(settings)
    if state == "bypassed" and leave is not None:
        first, last = ports.index(enter), ports.index(leave)
        del s[first, first], s[last, last]
        s[first, last] = s[last, first] = 1.0
    return NPort.plain(ports, s, {})


def _from_file(kind, settings, at):
    """Return the NPort of an element given by a Touchstone file."""
    named, ports = settings["data"], kind.ports(settings)
    try:
        contents = named.data
        if named.ports != len(ports):
            raise DataError(
                f"{contents.name} has {named.ports} ports and the {kind.name} has {len(ports)}",
                "name a file with as many ports as the element",
            )
        s, loss = named.entries(at.frequency_hz)
    except DataError as error:
        raise ParameterError("data", error.what, error.instead) from error
    if kind.amplifies(settings) or named.active:
        return _active(settings, at, s, named, ports)
    if kind.spans_stages:
        return NPort.plain(ports, s, kind.emission(settings, at, s))
    return NPort.thermal(ports, s, at.emitted, loss)


def _active(settings, at, s, named, ports):
    if len(ports) != 2 or (1, 0) not in s:
        raise ParameterError(
            "data", f"{named.data.name} shows gain, and only amplifying two-ports are known here",
            "check the calibration, or give a passive file",
        )
    nport = active_two_port(settings, at, s, named)
    if nport is None:
        raise ParameterError(
            "data", f"{named.data.name} shows gain, and its noise is neither given nor in the file",
            ACCEPTED_NOISE,
        )
    return nport


def uniform(at, temperature_k):
    """Return conditions with every part of the element at one temperature (kelvin)."""
    return replace(
        at, temperature_k=temperature_k, anchors=(), heating=UNHEATED, uniform_k=temperature_k
    )
