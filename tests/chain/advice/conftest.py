"""A small receiver that every rule is content with, and what check finds in changes of it."""

import pytest

from chain.advice.check import check

RECEIVER = """
band: {start: 5 GHz, stop: 6 GHz, points: 11}
stages:
  room:  {temperature: 295 K}
  plate: {temperature: 4 K, cooling: {3 K: 0.5 W, 5 K: 1.5 W}}
  still: {temperature: 0.9 K, cooling: {0.8 K: 15 mW, 1.0 K: 30 mW}}
  base:  {temperature: 15 mK, cooling: {10 mK: 2 uW, 20 mK: 15 uW}}
lines:
  receive:
    - {id: S1, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: plate, length: 0.6 m, coax: stainless-304-2.19}
    - {id: A1, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: W2, kind: cable, from: plate, to: base, length: 0.5 m, coax: stainless-304-0.86,
       via: {still: 0.2 m}}
    - {id: A2, kind: attenuator, stage: base, loss: 40 dB}
    - {id: D1, kind: device, stage: base}
    - {id: I1, kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB, tag: I-1}
    - {id: C1, kind: coupler, stage: base, coupling: 20 dB, reversed: true, loads: [isolated]}
    - {id: X1, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: pump, tag: X-1}
    - {id: I2, kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB, tag: I-2}
    - {id: W3, kind: cable, from: base, to: plate, length: 0.5 m, coax: niobium-titanium-0.86,
       via: {still: 0.3 m}}
    - {id: H1, kind: amplifier, stage: plate, gain: 40 dB, noise_temperature: 2 K, bias: 9 mW,
       tag: H-1}
    - {id: W4, kind: cable, from: plate, to: room, length: 0.8 m, coax: stainless-304-2.19}
    - {id: R1, kind: port, stage: room}
  pump-in:
    - {id: S2, kind: port, stage: room}
    - {id: W5, kind: cable, from: room, to: plate, length: 0.6 m, coax: stainless-304-2.19}
    - {id: A3, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: W6, kind: cable, from: plate, to: base, length: 0.5 m, coax: niobium-titanium-0.86,
       via: {still: 0.2 m}}
    - {id: A4, kind: attenuator, stage: base, loss: 20 dB}
    - {join: C1.coupled}
tones:
  pump: {into: S2, frequency: 11.2 GHz, arriving: {X1.in: -70 dBm}}
signals:
  receive: {from: D1.out, to: R1}
  drive:   {from: S1, to: D1.in}
accept: {no-infrared-filter: no matter here}
"""


@pytest.fixture(scope="session")
def receiver(write_layout):
    """Return a function that loads the receiver with --set changes and edits of its text."""

    def load(*changes, edits=(), more=""):
        text = RECEIVER
        for old, new in edits:
            assert old in text
            text = text.replace(old, new, 1)
        return write_layout(text + more, *changes)

    return load


@pytest.fixture
def found(receiver):
    """Return a function from changes to {code: its first Finding} of what check finds."""

    def look(*changes, edits=(), more="", margins=None):
        advice = check(receiver(*changes, edits=edits, more=more), margins)
        return {finding.code: finding for finding in reversed(advice.every)}

    return look


@pytest.fixture
def fires(found):
    """Return a function that tells whether a rule fires, and on which elements."""

    def look(code, *changes, edits=(), more="", margins=None):
        finding = found(*changes, edits=edits, more=more, margins=margins).get(code)
        return None if finding is None else finding.elements

    return look
