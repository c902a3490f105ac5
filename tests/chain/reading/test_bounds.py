"""Values beyond sense are refused in words, wherever they stand in a layout."""

import math

import pytest

from chain.reading import declared
from components.parameters import Measure

STAGE = "stage: mixing"
DEVICE = f"{{id: D1, kind: device, {STAGE}}}"
LOSS = "loss: 20 dB"


def measures(fields, before=""):
    """Yield (name, Measure) of declared fields, those of groups and tables too."""
    for parameter in fields:
        yield from inside(parameter.reads, f"{before}{parameter.name}")


def inside(reads, name):
    if isinstance(reads, Measure):
        yield name, reads
    elif isinstance(reads, declared.Group | declared.Rows):
        yield from measures(reads.fields, f"{name}.")
    elif isinstance(reads, declared.Either):
        yield from inside(reads.with_it, name)
        yield from inside(reads.without, name)
    elif isinstance(reads, declared.Steps):
        yield f"{name} (where)", reads.where
        yield f"{name} (what)", reads.value
    elif isinstance(reads, declared.Constant):
        yield from inside(reads.steps, name)
    elif isinstance(reads, declared.Named) and reads.dimension:
        yield f"{name} (what)", reads.value


DECLARED = list(measures(declared.LAYOUT))


def test_sections_are_walked():
    assert {"band.start", "tones.power", "materials.resistivity (where)", "margins.photons",
            "stages.cooling (what)", "stages.other (what)"} <= {name for name, _ in DECLARED}


@pytest.mark.parametrize(("name", "reads"), DECLARED, ids=[name for name, _ in DECLARED])
def test_every_key_of_a_section_has_both(name, reads):
    assert math.isfinite(reads.least)
    assert math.isfinite(reads.most)
    assert reads.lowest <= reads.least < reads.most


@pytest.mark.parametrize(("old", "new", "said"), [
    ("gain: 30 dB", "gain: 1e9 dB",
     "H1.gain: '1e9 dB' is above 100 dB; give 100 dB or less"),
    ("gain: 30 dB", "gain: {4 GHz: 30 dB, 8 GHz: 1e9 dB}",
     "H1.gain: '1e9 dB' is above 100 dB; give 100 dB or less"),
    ("noise_temperature: 2 K", "noise_temperature: 1e300 K",
     "H1.noise_temperature: '1e300 K' is above 1e10 K; give 1e10 K or less"),
    ("noise_temperature: 2 K", "noise_temperature: 2 K, bias: 1e300 W",
     "H1.bias: '1e300 W' is above 1000 kW; give 1000 kW or less"),
    ("noise_temperature: 2 K", "noise_temperature: 2 K, p1db_out: -2000 dBm",
     "H1.p1db_out: '-2000 dBm' is below 1e-30 W; give 1e-30 W or more"),
    (LOSS, "loss: 1e9 dB", "A1.loss: '1e9 dB' is above 300 dB; give 300 dB or less"),
    (LOSS, f"{LOSS}, return_loss: 1e-30 dB",
     "A1.return_loss: '1e-30 dB' is below 0.001 dB; give 0.001 dB or more"),
    (LOSS, f"{LOSS}, temperature: 1e300 K",
     "A1.temperature: '1e300 K' is above 1e6 K; give 1e6 K or less"),
    (DEVICE, f"{{id: D1, kind: cavity, {STAGE}, frequency: 6 GHz, unloaded_q: 1e-300}}",
     "D1.unloaded_q: '1e-300' is below 0.1; give 0.1 or more"),
    (DEVICE, f"{{id: D1, kind: diplexer, {STAGE}, crossover: 1e-300 GHz, order: 3, loads: [high]}}",
     "D1.crossover: '1e-300 GHz' is below 1 Hz; give 1 Hz or more"),
    ("temperature: 295 K", "temperature: 1e300 K",
     "stages.room.temperature: '1e300 K' is above 10000 K; give 10000 K or less"),
    ("temperature: 15 mK, cooling: {10 mK: 2 uW,", "temperature: 15 mK, cooling: {1e-300 K: 2 uW,",
     "stages.mixing.cooling: '1e-300 K' is below 1 uK; give 1 uK or more"),
    ("{temperature: 3.8 K}", "{temperature: 3.8 K, other: {wires: 1e300 W}}",
     "stages.plate.other.wires: '1e300 W' is above 1000 kW; give 1000 kW or less"),
    ("stop: 8 GHz", "stop: 1e300 GHz", "band.stop: '1e300 GHz' is not a finite number"),
    ("stop: 8 GHz", "stop: 1e9 GHz", "band.stop: '1e9 GHz' is above 10000 GHz"),
])
def test_values_beyond_sense(desk, old, new, said):
    text = desk.changed(old, new)
    place, _, words = desk.refused(text)[0].partition(" ")
    assert words.startswith(said)
    _, line, column = place.rstrip(":").split(":")
    # The place is where the value stands.
    assert text.splitlines()[int(line) - 1][int(column) - 1:].lstrip("'").startswith(
        said.split("'")[1]
    )
