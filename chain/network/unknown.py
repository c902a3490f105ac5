"""Which phases of a network nobody knows, and where they stand in its graph of waves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from chain.layout.limits import check_phases
from chain.network.cycles import Edge, phases_that_matter, strong_loops
from components.phases import declared_phases, exponents, given_phase, unknown_reflections

Variable = tuple[str, int, str]
"""An unknown phase of a network: element, +1 at the signal or -1 at the idler, name."""


@dataclass(frozen=True)
class Unknown:
    """What is not known of a network's phases, as its graph needs it.

    Reflections that `return_loss` gives stand in the graph as reflectors of their own, so that what
    goes to and fro between the two ends of one element is a loop like any other.
    """

    edges: list
    pairs: list
    turning: dict
    """{Variable: UnknownPhase, or None for a reflection that `return_loss` gives}."""

    @classmethod
    def of(cls, network: Any) -> Any:
        """Return it for a network whose blocks stand at phase zero; edges only where needed."""
        turning, own = {}, {}
        for place, block in enumerate(network.blocks):
            turned = _of_block(network, block, turning)
            if turned is not None:
                own[place] = turned
        if turning:
            check_phases(network.layout, network.ids[0], noted=len(turning))
        edges, pairs = [], []
        for place, block in enumerate(network.blocks) if turning else ():
            found = own.get(place, _Turned({}, {}, {}, False))
            edges += _edges(network, block, found, place)
            for i, j in block.nport.emission:
                if i != j:
                    turns = _added(found.rows.get(i, {}), found.rows.get(j, {}), -1)
                    waves = block.waves[i], block.waves[j]
                    pairs.append((*(network.index[wave] for wave in waves), turns))
        return cls(edges, pairs, turning)

    def that_matter(self) -> Any:
        """Return the Variables on a loop or on one of two ways, by name."""
        return phases_that_matter(self.edges, self.pairs) if self.turning else []

    def loops(self, names: Any) -> Any:
        """Return the strong Loops that the phases `names` turn, strongest first."""
        return strong_loops(self.edges, names)


@dataclass(frozen=True)
class _Turned:
    """Which phases turn a block's rows, columns and diagonal, {index: {Variable: count}}."""

    rows: dict
    columns: dict
    diagonal: dict
    seen: bool
    """True where reflections stand in front of the ports, and are seen from inside too."""


def _of_block(network, block, turning):
    """Note a block's unknown phases; return its _Turned, or None."""
    element = network.layout.elements[block.id]
    settings = network.settings(element)
    declared = [
        unknown for unknown in declared_phases(element.kind, settings)
        if given_phase(settings, unknown.parameter) is None
        and not _length_known(network.layout, block.id, unknown.joint)
    ]
    reflections = unknown_reflections(element.kind, settings)
    if not declared and not reflections:
        return None
    rows, columns, diagonal = {}, {}, {}
    for side in sorted(set(block.nport.sidebands), reverse=True):
        for unknown in declared:
            name = (block.id, side, unknown.name)
            found = exponents(block.nport, unknown, side)
            if not any(found):
                continue
            turning[name] = unknown
            for counts, whole in zip(found, (rows, columns), strict=True):
                for index, count in counts.items():
                    whole.setdefault(index, {})[name] = count
        for reflection in reflections:
            name = (block.id, side, reflection)
            turning[name] = None
            for index in _places(block, side, reflection):
                diagonal.setdefault(index, {})[name] = side
    return _Turned(rows, columns, diagonal, not element.kind.holds_reflections(settings))


def _places(block, side, reflection):
    """Return the indices of a block's waves that a reflection is at."""
    waves = zip(block.nport.ports, block.nport.sidebands, strict=True)
    here = {index: port for index, (port, own) in enumerate(waves) if own == side}
    # A name that is no port's is that of one phase for all of them.
    return [index for index, port in here.items() if port == reflection] or list(here)


def _edges(network, block, found, place):
    """Yield the Edges of a block's entries, with reflectors in front of its ports where seen."""
    sources = []
    for key, port, side in block.waves:
        sources.append(network.index.get((*network.partner[key, port], side)))
    leaves = [network.index[wave] for wave in block.waves]
    if not (found.seen and found.diagonal):
        for (i, j), entry in block.nport.scattering.items():
            if sources[j] is not None:
                turns = _added(found.rows.get(i, {}), found.columns.get(j, {}))
                turns = _added(turns, found.diagonal.get(i, {})) if i == j else turns
                yield Edge(leaves[i], sources[j], entry, turns)
        return
    matched, sizes = network.without_reflections(block)
    for i, turns in found.diagonal.items():
        size = sizes[block.waves[i][2]]
        through = np.sqrt(1.0 - size**2)
        out, into = ("out", place, i), ("in", place, i)
        rows, columns = found.rows.get(i, {}), found.columns.get(i, {})
        yield Edge(leaves[i], out, through, rows)
        yield Edge(into, out, -size, _added({}, turns, -1))
        if sources[i] is not None:
            yield Edge(into, sources[i], through, columns)
            yield Edge(leaves[i], sources[i], size, _added(_added(rows, columns), turns))
    for (i, j), entry in matched.scattering.items():
        yield Edge(("out", place, i), ("in", place, j), entry, {})


def _added(first, second, sign=1):
    if not second:
        return first
    total = dict(first)
    for name, count in second.items():
        total[name] = total.get(name, 0) + sign * count
    return total


def _length_known(layout, key, port):
    """Tell whether a cable of known length, or a file with its phase, comes next at a port."""
    if port is None or (key, port) not in layout.partners:
        return False
    other = layout.elements[layout.partners[key, port][0]]
    return other.kind.spans_stages and (
        other.settings.given("length") or other.settings.given("data")
    )
