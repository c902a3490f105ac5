"""Twenty mistakes, written down before anyone ran them: the second list.

Each is a change of a healthy layout (tests/chain/advice/healthy.py) that people make, and what an
experienced colleague would name.  The score is how many are found, by the code hoped for or by
another that names the same element.  The list was committed before its first run and is not tuned.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Mistake:
    """A mistake in a healthy layout: changes as --set takes them, edits of its text."""

    name: str
    layout: str
    hoped: tuple[str, ...]
    """Codes of which any would do."""
    element: str | None
    changes: tuple[str, ...] = ()
    edits: tuple[tuple[str, str], ...] = ()


TWENTY = (
    Mistake("20 dB pad at 4 K forgotten on the drive line", "qubit drive and readout",
            ("thermal-photons",), "Q", ("A1.loss=0 dB",)),
    Mistake("isolator's sense the wrong way", "qubit drive and readout", ("reversed",), "I1",
            ("I1.reversed=true",)),
    Mistake("HEMT placed on the still", "qubit drive and readout",
            ("stage-skipped", "over-cooling"), "H1", ("H1.stage=still",)),
    Mistake("NbTi coax up to room temperature", "qubit drive and readout",
            ("superconductor-too-warm",), "W6", ("W6.coax=niobium-titanium-2.19",)),
    Mistake("copper-thick coax to the mixing chamber", "qubit drive and readout",
            ("over-cooling", "close-to-cooling", "unanchored-coax"), None,
            ("W3.coax=cupronickel-3.58", "W3.length=2 cm", "W3.via=")),
    Mistake("readout power in dBm instead of at the sample", "qubit drive and readout",
            ("pump-dumped-cold", "over-cooling"), None,
            ("tones.probe.arriving=", "tones.probe.power=20 dBm")),
    Mistake("HEMT's bias in watts", "qubit drive and readout", ("over-cooling",), None,
            ("H1.bias=10 W",)),
    Mistake("the pump's load on the mixing chamber", "paramp receiver",
            ("pump-dumped-cold", "over-cooling"), "T1", ("T1.stage=mixing", "W8.to=still")),
    Mistake("the pump line without cold attenuation", "paramp receiver",
            ("side-port-noise",), None, ("A4.loss=0 dB", "A3.loss=0 dB")),
    Mistake("paramp without isolator behind it", "paramp receiver", ("paramp-unguarded",), "X1",
            ("I2.state=bypassed",)),
    Mistake("paramp with hardly any gain", "paramp receiver", ("paramp-weak",), "X1",
            ("X1.gain=4 dB",)),
    Mistake("metres for centimetres", "spin resonance at 1 K", ("length-unlikely",), "W2",
            ("W2.length=40 m",)),
    Mistake("no cold amplifier", "haloscope without paramp", ("no-cold-amplifier",), "H2",
            ("H1.state=bypassed",)),
    Mistake("warm noise diode left at the sample's line", "haloscope without paramp",
            ("thermal-photons", "warm-load"), None, ("A2.temperature=300 K",)),
    Mistake("isolation of 2 dB for 20 dB", "haloscope without paramp", ("no-isolation",), "D1",
            ("I1.isolation=2 dB",)),
    Mistake("loom of NbTi from room temperature", "detector at 50 mK",
            ("superconductor-too-warm",), "L1", ("L1.material=niobium-titanium",)),
    Mistake("copper loom to the cold stage", "detector at 50 mK",
            ("over-cooling", "close-to-cooling"), None, ("L1.material=copper-rrr100",)),
    Mistake("last amplifier of a two-stage chain first", "haloscope without paramp",
            ("noisier-first", "no-cold-amplifier", "costly-coax", "lossy-part"), "H1",
            ("H1.noise_temperature=80 K",)),
    Mistake("dc-block on the bias tee's dc port", "flux-tunable qubit", ("dc-blocked",), "O1",
            (), (("    - {join: Z1.dc}\n",
                  "    - {id: O1, kind: dc-block, stage: mixing}\n    - {join: Z1.dc}\n"),)),
    Mistake("all 60 dB of a line at the mixing chamber", "qubit drive and readout",
            ("attenuation-all-cold", "pump-dumped-cold"), "A3",
            ("A1.loss=0 dB", "A2.loss=0 dB", "A1.state=bypassed", "A2.state=bypassed",
             "A3.loss=60 dB")),
)
