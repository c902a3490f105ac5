"""A short readout with a paramp, and data of it with anything wrong."""

import numpy as np
import pytest

import chain
from chain.measurement.data_sets import GAIN, SYSTEM, Column, DataSet

READOUT = """\
title: A short readout
band: {start: 4 GHz, stop: 7 GHz, points: 31}
stages:
  room: {temperature: 295 K}
  plate: {temperature: 4 K}
  base: {temperature: 20 mK}
lines:
  main:
    - {id: D, kind: device, stage: base, reflects: true}
    - {id: I, kind: isolator, stage: base, insertion_loss: 0.4 dB, isolation: 20 dB}
    - {id: X, kind: paramp, stage: base, gain: 18 dB +/- 0.5 dB, mixing: three-wave, pump: pump}
    - {id: W, kind: cable, from: base, to: plate, loss: 0.5 dB}
    - {id: H, kind: amplifier, stage: plate, gain: 36 dB +/- 0.5 dB, noise_temperature: 2.2 K}
    - {id: V, kind: cable, from: plate, to: room, loss: 2 dB}
    - {id: R, kind: port, stage: room}
  pump:
    - {id: S, kind: port, stage: room}
    - {id: T, kind: termination, stage: room}
tones: {pump: {into: S, frequency: 11.3 GHz, power: 1 uW}}
signals: {main: {from: D.in, to: R}}
"""


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "readout.yaml"
    path.write_text(READOUT)
    return chain.load(path)


@pytest.fixture
def measured(layout):
    """Return the function from changes to data of the whole program, ripple of 0.1 dB on them."""
    def data(*changes, with_=(), name="data.csv", ripple_db=0.1):
        rng = np.random.default_rng(4)
        f = np.linspace(4e9, 7e9, 61)
        b = layout.changed(*changes, *with_).budget("main", frequency_hz=f)
        own = np.full(f.size, 0.05)

        def ripple():
            return ripple_db * np.sqrt(2) * np.sin(2 * np.pi * (f / 0.4e9 + rng.random()))

        columns = (
            Column(GAIN, f, b.gain_db + ripple(), own, 0.2),
            Column(SYSTEM, f, 10 * np.log10(b.system_noise_quanta) + ripple(), own, 0.2),
        )
        return DataSet(name, columns, tuple(with_))

    return data
