"""Phases that no value of an element gives: which scattering entries turn, and how, together.

An unknown phase turns the rows and the columns of S: S_ij -> S_ij exp(j phi (u_i + v_j)), and with
it C_ij -> C_ij exp(j phi (u_i - u_j)), with whole numbers u of the waves that leave and v of those
that arrive.  That is U S V with diagonal unitary U and V: singular values stay as they are, so any
phase is as passive (or as active) as any other, reciprocal entries that turn alike stay reciprocal,
and the phase can be anything on the circle.  Moved reference planes are the case U = V.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from components.parameters import ParameterError


@dataclass(frozen=True)
class UnknownPhase:
    """One phase of an element that nobody knows unless the layout says it."""

    parameter: str
    """The parameter whose phase it is, as `phase:` names it."""
    name: str
    """Tells it from the element's other ones."""
    leaving: Mapping[str, int] = field(default_factory=dict)
    """u by port: how often it turns what leaves there."""
    arriving: Mapping[str, int] = field(default_factory=dict)
    """v by port: how often it turns what arrives there."""
    joint: str | None = None
    """A port at whose joint it lies: known where a cable of known length comes next."""
    sign: int = 1
    """How often a given phase of the parameter turns this one."""


def planes(parameter, *ports):
    """Return the phases of a part that reflects: how far from its own plane each joint lies."""
    return tuple(
        UnknownPhase(parameter, f"plane {port}", {port: 1}, {port: 1}, joint=port)
        for port in ports
    )


def mirrored(parameter, *ports):
    """Return the phases of reflections at single ports, each turning by itself."""
    return tuple(UnknownPhase(parameter, f"mirror {port}", {port: 1}) for port in ports)


def backward(parameter, port="in"):
    """Return the phase of what leaks back to a two-port's `port`: it turns what leaves there."""
    return (UnknownPhase(parameter, "leak", {port: 1}),)


def declared_phases(kind, settings):
    """Return every UnknownPhase of an element as it stands; `phase:` may give some of them.

    A Touchstone file in working order knows its own.  What is open or shorted sends everything
    back, from a place that nobody knows.
    """
    state = settings["state"]
    if state == "bypassed":
        return ()
    if state in ("open", "shorted"):
        return mirrored("state", *kind.ports(settings))
    if settings.given("data") and state == "ok" and not kind.pumps(settings):
        return ()
    return tuple(kind.phases(settings))


def given_phase(settings, parameter):
    """Return the phasor of a parameter's phase that the layout gives, or None."""
    given = settings["phase"]
    if given is None or parameter not in given:
        return None
    return np.exp(1j * np.deg2rad(given[parameter].value))


def reflection_phase(settings, at, port):
    """Return the phasor of what `return_loss` sends back at a port: given, or one of the draws."""
    given = given_phase(settings, "return_loss")
    return at.phase(port) if given is None else given


def unknown_reflections(kind, settings):
    """Return the names by which `Conditions.phase` is asked for reflections of unknown phase."""
    if not settings.given("return_loss") or given_phase(settings, "return_loss") is not None:
        return ()
    if settings["state"] in ("bypassed", "open", "shorted"):
        return ()
    if settings.given("data") and settings["state"] == "ok" and not kind.pumps(settings):
        return ()
    return kind.reflection_names(settings)


def phase_problems(kind, settings):
    """Yield a ParameterError for every phase that is given of what has none to give."""
    known = {"state", *(unknown.parameter for unknown in kind.phases(settings))}
    if settings.given("return_loss"):
        known.add("return_loss")
    for name in settings["phase"] or ():
        if name not in known:
            has = sorted(known - {"state"})
            yield ParameterError(
                "phase", f"phase names {name}, of which no phase is asked here",
                f"name {' or '.join(has)}" if has else "take phase out: nothing here leaks or "
                "reflects with a phase of its own",
            )


def turned_as_given(nport, kind, settings):
    """Return `nport` with the phases that the layout gives."""
    if settings["phase"] is None:
        return nport
    for unknown in declared_phases(kind, settings):
        phasor = given_phase(settings, unknown.parameter)
        if phasor is not None:
            for side in sorted(set(nport.sidebands)):
                nport = turned(nport, unknown, phasor, side)
    return nport


def turned(nport, unknown, phasor, side=1):
    """Return `nport` turned by an unknown phase on its waves of one sideband.

    `phasor` is exp(j phi) at that sideband's frequency, broadcasting to (draws, points); conjugate
    waves turn the other way.
    """
    out, into = exponents(nport, unknown, side)
    powers = {}

    def power(count):
        if count not in powers:
            powers[count] = np.asarray(phasor) ** count
        return powers[count]

    scattering, emission = dict(nport.scattering), dict(nport.emission)
    for (i, j), entry in scattering.items():
        if count := out.get(i, 0) + into.get(j, 0):
            scattering[i, j] = entry * power(count)
    for (i, j), entry in emission.items():
        if count := out.get(i, 0) - out.get(j, 0):
            emission[i, j] = entry * power(count)
    return type(nport)(nport.ports, scattering, emission, nport.sidebands, nport.emitted)


def exponents(nport, unknown, side):
    """Return ({index: u}, {index: v}) of a phase for an n-port's waves of one sideband."""
    found = []
    for counts in (unknown.leaving, unknown.arriving):
        found.append({
            index: unknown.sign * side * counts[port]
            for index, (port, own) in enumerate(zip(nport.ports, nport.sidebands, strict=True))
            if own == side and port in counts
        })
    return tuple(found)
