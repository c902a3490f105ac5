"""Random layouts, and a slow dense sum that shares nothing with the tool's own solve."""

import numpy as np
import pytest
from hypothesis import strategies as st

from components import response
from components.conditions import Conditions

MIXED = "stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}"
EVEN = "stages: {room: {temperature: 3 K}, plate: {temperature: 3 K}, base: {temperature: 3 K}}"


def _conditions(layout, element, f):
    return Conditions(
        frequency_hz=f,
        temperature_k=layout.temperature_k(element),
        anchors=layout.anchors(element),
    )


class DenseSum:
    """Every wave of a layout at signal and idler, by one dense inverse a frequency."""

    def __init__(self, layout, frequency_hz, idler_hz=None):
        self.layout = layout
        f = np.array([frequency_hz])
        sides = [1] if idler_hz is None else [1, -1]
        self.waves, blocks = [], []
        for element in layout.elements.values():
            at = _conditions(layout, element, f)
            if idler_hz is not None and element.kind.pumps(element.settings):
                nport = response.respond_with_idler(
                    element.kind, element.settings, at, at.at_frequency(np.array([idler_hz]))
                )
                blocks.append((element.id, nport, list(nport.sidebands)))
                continue
            for side in sides:
                here = at if side == 1 else at.at_frequency(np.array([idler_hz]))
                nport = response.respond(element.kind, element.settings, here)
                nport = nport if side == 1 else nport.conjugate()
                blocks.append((element.id, nport, [side] * len(nport.ports)))
        for key, nport, signs in blocks:
            self.waves += [(key, port, side) for port, side in zip(nport.ports, signs, strict=True)]
        size = len(self.waves)
        place = {wave: i for i, wave in enumerate(self.waves)}
        scatter, self.emission = np.zeros((size, size), complex), np.zeros((size, size), complex)
        offset = 0
        self.owner = []
        for key, nport, _ in blocks:
            n = len(nport.ports)
            s, c = nport.dense(1)
            scatter[offset : offset + n, offset : offset + n] = s[0, 0]
            self.emission[offset : offset + n, offset : offset + n] = c[0, 0]
            self.owner += [key] * n
            offset += n
        swap = np.zeros((size, size))
        for joint in layout.joints:
            for side in sides:
                a, b = place[(*joint.first, side)], place[(*joint.second, side)]
                swap[a, b] = swap[b, a] = 1.0
        self.swap, self.scatter, self.place = swap, scatter, place
        self.inverse = np.linalg.inv(np.eye(size) - scatter @ swap)
        self.sides = np.array([wave[2] for wave in self.waves])

    def transfer(self, start, end):
        """Complex transfer from a unit added to the wave leaving `start` to that arriving at
        `end` (ports at the signal)."""
        row = self.swap[self.place[(*end, 1)]] @ self.inverse
        return row[self.place[(*start, 1)]]

    def noise(self, end):
        """Noise arriving at a port, quanta: all of it, and by element."""
        row = self.swap[self.place[(*end, 1)]] @ self.inverse
        weighted = np.real(row[:, None] * self.emission * np.conj(row)[None, :])
        shares = {}
        for i, key in enumerate(self.owner):
            shares[key] = shares.get(key, 0.0) + weighted[i].sum()
        return sum(shares.values()), shares

    def commutator(self, end):
        """What the commutators of all emitters add up to at a matched port; one, by law."""
        row = self.swap[self.place[(*end, 1)]] @ self.inverse
        sign = np.diag(self.sides.astype(float))
        lost = sign - self.scatter @ sign @ self.scatter.conj().T
        # Elements do not share entries, so the blocks of `lost` are theirs alone.
        return np.real(row @ lost @ np.conj(row))


@pytest.fixture(scope="session")
def dense_sum():
    """The DenseSum class."""
    return DenseSum


class RandomLayouts:
    """Texts of random layouts, as hypothesis strategies."""

    @staticmethod
    def passive():
        """Lines without amplifiers at three temperatures."""
        return passive_lines().map(lambda lines: f"{MIXED}\n{lines}{TAIL}")

    @staticmethod
    def even():
        """The same with every stage at 3 K."""
        return passive_lines().map(lambda lines: f"{EVEN}\n{lines}{TAIL}")

    @staticmethod
    def active():
        """Lines with amplifiers and parametric amplifiers."""
        return active_lines().map(lambda lines: f"{MIXED}\n{lines}{TAIL}")


@pytest.fixture(scope="session")
def random_layouts():
    """The random layouts' strategies."""
    return RandomLayouts


def db(low, high):
    """Strategy for decibels as text."""
    return st.floats(low, high).map(lambda value: f"{value:.4f} dB")


def _passive(number):
    loss = db(0.01, 12)
    ident = f"M{number}"
    stage = st.sampled_from(["room", "plate", "base"])
    return st.one_of(
        st.builds(lambda s, v, r: f"{{id: {ident}, kind: attenuator, stage: {s}, loss: {v}, "
                  f"return_loss: {r}}}", stage, loss, db(8, 40)),
        st.builds(lambda s, v: f"{{id: {ident}, kind: attenuator, stage: {s}, loss: {v}}}",
                  stage, loss),
        st.builds(lambda v, r: f"{{id: {ident}, kind: cable, from: room, to: base, loss: {v}, "
                  f"length: 0.4 m, return_loss: {r}}}", loss, db(8, 40)),
        st.builds(lambda s, v, i: f"{{id: {ident}, kind: isolator, stage: {s}, insertion_loss: {v}, "
                  f"isolation: {i}}}", stage, db(0.1, 2), db(6, 40)),
        st.builds(lambda s, r: f"{{id: {ident}, kind: device, stage: {s}, return_loss: {r}}}",
                  stage, db(3, 30)),
        st.builds(lambda s, i: f"{{id: {ident}, kind: circulator, stage: {s}, insertion_loss: 0.4 dB, "
                  f"isolation: {i}, loads: ['3']}}", stage, db(10, 40)),
        st.builds(lambda s, c, d: f"{{id: {ident}, kind: coupler, stage: {s}, coupling: {c}, "
                  f"insertion_loss: 0.6 dB, directivity: {d}, loads: [coupled, isolated]}}",
                  stage, db(8, 30), db(16, 30)),
        st.builds(lambda s: f"{{id: {ident}, kind: diplexer, stage: {s}, crossover: 6.2 GHz, "
                  "order: 3, insertion_loss: 0.1 dB, loads: [high]}", stage),
    )


@st.composite
def passive_lines(draw):
    """Draw the elements of a passive line between two matched ports, with a branch."""
    count = draw(st.integers(1, 7))
    middle = [draw(_passive(number)) for number in range(count)]
    branch = draw(st.booleans())
    lines = ["{id: S, kind: port, stage: room}", *middle]
    text = ""
    if branch:
        lines.append("{id: B, kind: coupler, stage: base, coupling: 6 dB, insertion_loss: 0.2 dB}")
        spur = draw(_passive(90)), draw(_passive(91))
        text = (
            "  spur:\n    - {join: B.coupled}\n" + "".join(f"    - {item}\n" for item in spur)
            + "    - {id: T, kind: port, stage: plate, return_loss: 6 dB}\n"
            "  ring:\n    - {join: B.isolated}\n    - {id: U, kind: termination, stage: plate}\n"
        )
    lines.append("{id: R, kind: port, stage: room}")
    return "lines:\n  main:\n" + "".join(f"    - {item}\n" for item in lines) + text


def _active(number):
    ident = f"G{number}"
    return st.one_of(
        st.builds(lambda g, t, r: f"{{id: {ident}, kind: amplifier, stage: plate, gain: {g}, "
                  f"noise_temperature: {t:.3f} K, reverse_isolation: 50 dB, return_loss: {r}}}",
                  db(3, 30), st.floats(0.5, 50), db(14, 30)),
        st.builds(lambda g, t: f"{{id: {ident}, kind: amplifier, stage: plate, gain: {g}, "
                  f"noise_temperature: {t:.3f} K}}", db(3, 30), st.floats(0.5, 50)),
        st.builds(lambda g, e, v: f"{{id: {ident}, kind: paramp, stage: base, gain: {g}, mixing: "
                  f"three-wave, pump: pump, excess_noise: {e:.3f}, insertion_loss: {v}}}",
                  db(0, 20), st.floats(0, 2), db(0, 3)),
    )


@st.composite
def active_lines(draw):
    """Draw a line with amplifiers and parametric amplifiers, each isolated on both sides."""
    items = ["{id: S, kind: port, stage: room}"]
    number = 0
    for position in range(draw(st.integers(1, 3))):
        for _ in range(draw(st.integers(0, 2))):
            items.append(draw(_passive(number)))
            number += 1
        items.append(f"{{id: L{position}, kind: isolator, stage: base, insertion_loss: 0.2 dB, "
                     "isolation: 30 dB}")
        items.append(draw(_active(position)))
        items.append(f"{{id: K{position}, kind: isolator, stage: base, insertion_loss: 0.2 dB, "
                     "isolation: 30 dB}")
    items.append("{id: R, kind: port, stage: room}")
    return "lines:\n  main:\n" + "".join(f"    - {item}\n" for item in items)


TAIL = (
    "band: {start: 4 GHz, stop: 7 GHz, points: 4}\n"
    "tones: {pump: {into: S, frequency: 11.3 GHz, power: 1 uW}}\n"
    "signals: {main: {from: S, to: R}}\n"
)
