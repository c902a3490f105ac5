"""The fixed set of phases that stands for what nobody knows, and the means over it."""

import functools
import heapq
import itertools
from dataclasses import dataclass

import numpy as np

from chain.network.cycles import Edge, phases_that_matter, strong_loops
from components.phases import declared_phases, exponents, given_phase, unknown_reflections

DRAWS = (64, 128, 256, 512, 1024)
"""Draws of a network's unknown phases: the fewest that do, at most MOST_WORK over their number."""

MOST_WORK = 1600

MISSED = 1e-3
"""Relative error of the means at which more draws are taken."""

COUNTED_LOOP = 2e-3
"""Amplitude from which a loop counts for the error of the means."""

CORNERS = 4
"""Loops of which every combination of signs is drawn besides, for least and most."""

_SEED = 20_061
_OTHER = 0.1
"""Amplitude that a phase is expected to act with where it sets no strong loop."""

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
    def of(cls, network):
        """Return it for a network whose blocks stand at phase zero; edges only where needed."""
        turning, own = {}, {}
        for place, block in enumerate(network.blocks):
            turned = _of_block(network, block, turning)
            if turned is not None:
                own[place] = turned
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

    def that_matter(self):
        """Return the Variables on a loop or on one of two ways, by name."""
        return phases_that_matter(self.edges, self.pairs) if self.turning else []


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


class PhaseSet:
    """Phasors of a network's unknown phases, {Variable: (draws, 1 or points)}, and weights.

    A rank-1 lattice: phase m turns z_m times over the draws.  Where a phase closes a loop of
    amplitude L, the draws follow the loop's whole phase theta, whatever cables add to it, and lie
    closer where it resonates: theta = psi - 2 arg(1 + s exp(j psi)) with psi even and s = L / (1 +
    sqrt(1 - L^2)), each with the weight d theta / d psi; corners (all loops in phase or not) have
    none.  Under the lattice the mean over one loop
    is then off by s^draws, which even for L = 0.99 is 1e-4.
    """

    def __init__(self, names, loops, points):
        chosen = _pivots(loops)
        others = [name for name in names if name not in chosen]
        sizes = (*(loop.size for loop in chosen.values()), *(_OTHER for _ in others))
        counted = [loop for loop in loops if loop.size >= COUNTED_LOOP]
        for even in DRAWS:
            turns = _turns(even, tuple(min(max(round(s, 2), _OTHER), 0.8) for s in sizes))
            acting = [place for place, size in enumerate(sizes) if size >= COUNTED_LOOP]
            self.error = _missed(
                even, tuple(turns[place] for place in acting),
                [sizes[place] for place in acting], counted,
            ) + _weak(loops)
            if self.error <= MISSED or 2 * even * len(names) > MOST_WORK:
                break
        corners = _corners(chosen, len(acting))
        psi = {
            name: np.concatenate([2 * np.pi * (np.arange(even) * turn % even) / even,
                                  corners.get(name, np.zeros(_count(corners)))])[:, None]
            for name, turn in zip((*chosen, *others), turns, strict=True)
        }
        shifts = 2 * np.pi * np.random.default_rng(_SEED).random(len(others))
        angles = {name: psi[name] + shift for name, shift in zip(others, shifts, strict=True)}
        weights = np.ones((1, 1))
        for name, loop in chosen.items():
            own = loop.turns[name]
            theta, weight = _resonant(own * psi[name], np.abs(loop.product))
            known = np.unwrap(np.angle(np.broadcast_to(loop.product, (points,))))
            rest = sum(count * angles[other] for other, count in loop.turns.items()
                       if other != name)
            angles[name] = (theta - known - rest) / own
            weights = weights * weight
        self._averaged = even
        self.draws = even + _count(corners)
        whole = np.broadcast_to(weights, (self.draws, weights.shape[1])).copy()
        whole[even:] = 0.0
        # What does not hang on any phase keeps its value to the last digit.
        self.weights = whole / whole.mean(axis=0)
        self.phasors = {name: np.exp(1j * angles[name]) for name in names}

    def error_of_mean(self, values):
        """Return by how much the weighted mean of values (draws, points) may be off, (points,).

        The least of two estimates: what the lattice leaves of products of loops, and twice the
        standard error of as many draws by chance.
        """
        mean = (values * self.weights).mean(axis=0)
        part = self._averaged / self.draws
        scatter = (self.weights**2 * (values - mean) ** 2).mean(axis=0) * part
        by_chance = 2.0 * np.sqrt(scatter / self._averaged)
        return np.minimum(by_chance, np.abs(mean) * self.error)


def _corners(chosen, count):
    """Return {phase: angles of further draws}: the strongest loops all in phase or in antiphase.

    They have no weight in the means and are where least and most are to be sought.
    """
    some = list(chosen)[: min(count, CORNERS)]
    if not some:
        return {}
    signs = np.array(list(itertools.product((0.0, np.pi), repeat=len(some))))
    return {name: signs[:, place] / chosen[name].turns[name] for place, name in enumerate(some)}


def _count(corners):
    return len(next(iter(corners.values()))) if corners else 0


def _missed(draws, turns, acting, loops):
    """Return what the lattice may leave of the mean of products of loops, relative.

    Its first error is in a product of L_j^|k_j| with sum of k_j z_j divisible by the number of
    draws; up to twice the amplitudes stand for what many loops do together, and a loop alone counts
    with what bending leaves of it.
    """
    if not acting:
        return 0.0
    if len(loops) == 1:
        return 2.0 * float(np.max(_closeness(np.abs(loops[0].product)))) ** draws
    together = 1.0 + min(2.0 * round(sum(loop.size for loop in loops), 2), 1.0)
    costs = tuple(-np.log(min(max(together * round(size, 3), 1e-3), 1.0)) for size in acting)
    return float(4.0 * np.exp(-_least_left(draws, turns, costs)))


def _weak(loops):
    """Return what loops too weak to be counted may do together with the strongest, relative."""
    weak = [loop.size for loop in loops if loop.size < COUNTED_LOOP]
    return float(np.linalg.norm(weak)) * loops[0].size if weak else 0.0


@functools.lru_cache(maxsize=64)
def _least_left(draws, turns, costs):
    """Return the least sum of |k| cost over whole k, not all 0, with sum of k z = 0 mod draws.

    By E. W. Dijkstra's search over the remainders (1959): two different cheapest ways to one
    remainder differ by such a k.
    """
    none = (0,) * len(turns)
    way, heap, least = {}, [(0.0, 0, none)], draws * min(costs)
    while heap and heap[0][0] <= least:
        cost, here, steps = heapq.heappop(heap)
        if here in way:
            difference = [abs(a - b) for a, b in zip(steps, way[here], strict=True)]
            if any(difference):
                least = min(least, sum(a * b for a, b in zip(difference, costs, strict=True)))
            continue
        way[here] = steps
        for place, (turn, own) in enumerate(zip(turns, costs, strict=True)):
            for sign in (1, -1):
                following = list(steps)
                following[place] += sign
                heapq.heappush(heap, (cost + own, (here + sign * turn) % draws, tuple(following)))
    return least


def _closeness(size):
    """Return s of loops of amplitude L: none where it is one or more, which has no mean."""
    inside = np.where(size < 1.0, size, 0.0)
    return inside / (1.0 + np.sqrt(1.0 - inside**2))


def _resonant(psi, size):
    """Return (theta, weight) of a loop of amplitude `size` over evenly spread psi."""
    s = _closeness(size)
    around = 1.0 + s * np.exp(1j * psi)
    return psi - 2.0 * np.angle(around), (1.0 - s**2) / np.abs(around) ** 2


def _pivots(loops):
    """Return {phase: the Loop whose whole phase it sets}: of each loop one that is still free."""
    chosen, used = {}, set()
    for loop in loops:
        free = [name for name in loop.turns if name not in used]
        if free:
            chosen[min(free, key=lambda name: abs(loop.turns[name]))] = loop
            used |= loop.turns.keys()
    return chosen


@functools.lru_cache(maxsize=64)
def _turns(draws, sizes):
    """Return how often each phase turns over the draws, for loops of these amplitudes.

    Chosen one after the other for the least error on products of 1/|1 - L exp(j phi)|^2 (component
    by component; I. H. Sloan and A. V. Reztsov, Math. Comput. 71, 263, 2002, from memory).
    """
    found, draw, so_far = [], np.arange(draws), np.ones(draws)
    candidates = np.arange(1, draws // 2)
    for size in sizes:
        kernel = (1 - size**2) / np.abs(1 - size * np.exp(2j * np.pi * draw / draws)) ** 2
        each = kernel[draw[:, None] * candidates % draws]
        error = np.abs((so_far[:, None] * each).mean(axis=0) - 1.0)
        if not found:
            error = np.where(np.gcd(candidates, draws) == 1, error, np.inf)
        best = int(np.argmin(np.round(error, 14)))
        found.append(int(candidates[best]))
        so_far = so_far * each[:, best]
    return tuple(found)


def loops_of(unknown, names):
    """Return the strong Loops of a network that the phases `names` turn."""
    return strong_loops(unknown.edges, names)


class RandomPhases:
    """Phasors for the same from draws of toleranced values: each phase for itself, all alike."""

    weights = None

    def __init__(self, names, draws):
        self.draws = draws.draws
        self.phasors = {
            (key, side, name): draws.phasor(key, name if side > 0 else f"{name} idler")
            for key, side, name in names
        }
