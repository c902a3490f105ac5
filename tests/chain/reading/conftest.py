"""A small layout to break, and how to read what is said about it."""

import pytest

from chain.errors import LayoutError
from chain.reading import load

GOOD = """\
band: {start: 4 GHz, stop: 8 GHz, points: 11}
stages:
  room:   {temperature: 295 K}
  plate:  {temperature: 3.8 K}
  mixing: {temperature: 15 mK, cooling: {10 mK: 2 uW, 20 mK: 15 uW}}
lines:
  main:
    - {id: S1, kind: port, stage: room}
    - {id: A1, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: D1, kind: device, stage: mixing}
    - {id: H1, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 2 K}
    - {id: R1, kind: port, stage: room}
signals:
  main: {from: D1.out, to: R1}
"""


class Desk:
    """A folder with layout files in it."""

    good = GOOD

    def __init__(self, folder):
        self.folder = folder

    def write(self, text, name="l.yaml"):
        path = self.folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return name

    def load(self, text, *changes):
        return load(self.write(text), changes)

    def refused(self, text, *changes):
        """Return every problem of a layout, one string each."""
        with pytest.raises(LayoutError) as caught:
            self.load(text, *changes)
        return str(caught.value).splitlines()

    def changed(self, old, new):
        """Return the good layout with one text replaced by another."""
        assert GOOD.count(old) == 1
        return GOOD.replace(old, new)

    def broken(self, old, new):
        """Return every problem of the good layout with one text replaced by another."""
        return self.refused(self.changed(old, new))


@pytest.fixture
def desk(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return Desk(tmp_path)
