"""A kind that somebody adds: all questions about kinds get a sensible answer without a list."""

import pytest

from chain import LayoutError
from chain.design.failures import candidates
from chain.measurement.warm import warmed
from components.declaration import KINDS, LOSS, Kind, kind
from components.kinds.amplifiers import Amplifier
from components.kinds.attenuators import Attenuator
from components.kinds.cables import Cable
from components.kinds.devices import Device
from components.parameters import Parameter

TEXT = """
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  one:
    - {id: S, kind: port, stage: room}
    - {id: P, kind: pad, stage: base, loss: 60 dB}
    - {id: D, kind: sample, stage: base}
    - {id: N, kind: window, stage: base}
    - {id: W, kind: rigid-line, from: base, to: room, loss: 1 dB}
    - {id: H, kind: low-noise-block, stage: room, gain: 30 dB, noise_temperature: 50 K}
    - {id: R, kind: port, stage: room}
signals: {main: {from: D.out, to: R}}
"""


class Window(Kind):
    """A part of which nothing is said but how it scatters."""

    name = "window"
    summary = "A window."
    parameters = (Parameter("loss", LOSS, "loss", "0 dB"),)

    def scattering(self, settings, at):
        through = settings.lets_through("loss", at)
        return {(0, 1): through, (1, 0): through}


class Pad(Attenuator):
    """An attenuator by another name."""

    name = "pad"


class Sample(Device):
    """A device by another name."""

    name = "sample"


class RigidLine(Cable):
    """A cable by another name."""

    name = "rigid-line"


class LowNoiseBlock(Amplifier):
    """An amplifier by another name."""

    name = "low-noise-block"


NEW = (Window, Pad, Sample, RigidLine, LowNoiseBlock)


@pytest.fixture
def layout(write_layout):
    for one in NEW:
        kind(one)
    yield write_layout(TEXT)
    for one in NEW:
        del KINDS[one.name]


def test_what_is_not_known_warm_is_told(layout):
    said = " ".join(warmed(layout).remarks)
    # The window's and the line's losses are those of the cold parts as far as anybody says.
    assert "taken as they are cold, for want of `warm:` values: N, W" in said
    assert "off are H;" in said


def test_advice_knows_devices_amplifiers_and_what_breaks(layout):
    found = {(one.code, one.elements) for one in layout.check().findings}
    assert ("no-isolation", ("D", "H")) in found
    assert ("untagged", ("H",)) in found
    assert not [elements for code, elements in found if code == "untagged" and "N" in elements]


def test_failures_are_those_of_active_parts_and_of_what_spans_stages(layout):
    assert set(candidates(layout, layout.signals["main"])) == {("H", "dead"), ("W", "open")}


def test_it_is_drawn_like_what_it_is_made_of_or_as_a_box(layout):
    picture = layout.draw()
    assert "win" in picture
    assert ">low<" not in picture


def test_what_is_the_same_cold_and_warm_is_declared(write_layout, layout):
    for name in ("tag", "stage", "note"):
        with pytest.raises(LayoutError, match=f"unknown key '{name}'"):
            write_layout(TEXT, f"N.warm={{{name}: x}}")
    assert write_layout(TEXT, "N.warm={loss: 1 dB}").elements["N"].settings["warm"]
