"""Mistakes in pairs: a change of the receiver that a rule must find, and one as near as can be that
is sound and must be left alone."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Pair:
    """A mistake and its sound twin, as --set takes them and as edits of the text."""

    name: str
    code: str
    wrong: tuple[str, ...] = ()
    sound: tuple[str, ...] = ()
    wrong_edits: tuple[tuple[str, str], ...] = ()
    sound_edits: tuple[tuple[str, str], ...] = ()
    helped: bool = True
    """A tried remedy takes it away."""


H1 = "    - {id: H1, kind: amplifier, stage: plate, gain: 40 dB, noise_temperature: 2 K, bias: 9 mW,\n       tag: H-1}\n"
W4 = "    - {id: W4, kind: cable, from: plate, to: room, length: 0.8 m, coax: stainless-304-2.19}\n"
A2 = "    - {id: A2, kind: attenuator, stage: base, loss: 40 dB}\n"
WARM = "    - {id: H9, kind: amplifier, stage: room, gain: 40 dB, noise_temperature: 80 K, tag: H-9}\n"
TEE = (
    "    - {id: D1, kind: device, stage: base}\n",
    "    - {id: Z1, kind: bias-tee, stage: base}\n    - {id: D1, kind: device, stage: base}\n",
)
FEED = (
    "  pump-in:\n",
    "  bias:\n    - {id: S3, kind: port, stage: room}\n"
    "    - {id: W7, kind: cable, from: room, to: base, loss: 3 dB}\n%s    - {join: Z1.dc}\n"
    "  pump-in:\n",
)
BLOCK = "    - {id: O1, kind: dc-block, stage: base}\n"
LOW = "    - {id: O1, kind: filter, stage: base, shape: low-pass, order: 3, cutoff: 10 MHz}\n"
LOOM = (
    "  pump-in:\n",
    "  wires:\n    - {id: L1, kind: loom, from: %s, to: base, length: 0.6 m, count: 24,\n"
    "       material: niobium-titanium, gauge: 36, via: {%s}}\n  pump-in:\n",
)
ABSORBER = (
    "    - {id: J%d, kind: infrared-filter, stage: base, loss: 0.3 dB, reference: 6 GHz}\n")
SECOND = (
    "  pump-in:\n",
    "  second:\n    - {id: S4, kind: port, stage: room}\n"
    "    - {id: W8, kind: cable, from: room, to: base, loss: 3 dB}\n"
    "    - {id: A8, kind: attenuator, stage: base, loss: 65 dB}\n" + ABSORBER % 2 +
    "    - {id: D2, kind: device, stage: base, reflects: true}\n  pump-in:\n",
)

PAIRS = (
    Pair("a part a stage away from its cable's end", "stage-skipped",
         wrong=("A1.stage=still",), sound=("A1.temperature=4 K",)),
    Pair("a cable that ends a stage too early", "stage-skipped",
         wrong=("W3.to=still", "W3.via="), sound=("W3.length=0.6 m",)),
    Pair("centimetres written as metres", "length-unlikely",
         wrong=("W2.length=50 m",), sound=("W2.length=1.2 m",)),
    Pair("millimetres for metres", "length-unlikely",
         wrong=("W2.length=0.6 mm", "W2.via="), sound=("W2.length=6 cm", "W2.via=")),
    Pair("a thick coax at high frequency", "beyond-single-mode",
         wrong=("W4.coax=stainless-304-3.58", "band.stop=40 GHz"),
         sound=("W4.coax=stainless-304-3.58",)),
    Pair("a block on a bias tee's dc port", "dc-blocked",
         wrong_edits=(TEE, (FEED[0], FEED[1] % BLOCK)), sound_edits=(TEE, (FEED[0], FEED[1] % LOW))),
    Pair("every dB at the coldest stage", "attenuation-all-cold",
         wrong=("A1.stage=base", "A1.loss=0 dB", "A1.state=bypassed", "A2.loss=60 dB"),
         sound=("A2.loss=60 dB",)),
    Pair("one line of several without infrared filter", "no-infrared-filter",
         wrong=("accept.no-infrared-filter=",), sound=("accept.no-infrared-filter=",),
         wrong_edits=(SECOND,), sound_edits=(SECOND, (A2, A2 + ABSORBER % 1))),
    Pair("no amplifier at room temperature before a noisy receiver", "too-little-gain",
         wrong=("R1.adds=30000 K",), sound=("R1.adds=30000 K",), sound_edits=((W4, W4 + WARM),)),
    Pair("no cold amplifier at all", "no-cold-amplifier",
         wrong_edits=((H1, ""), (W4, W4 + WARM)), sound_edits=((W4, W4 + WARM),)),
    Pair("an amplifier that faces the device", "amplifier-faces-device",
         wrong_edits=(("    - {id: I1,", "    - {id: H8, kind: amplifier, stage: base, gain: 10 dB,"
                       " noise_temperature: 1 K, reverse_isolation: 20 dB, reversed: true, tag: h}\n"
                       "    - {id: I1,"),),
         sound_edits=(("    - {id: I1,", "    - {id: H8, kind: amplifier, stage: base, gain: 10 dB,"
                       " noise_temperature: 1 K, reverse_isolation: 20 dB, tag: h}\n"
                       "    - {id: I1,"),)),
    Pair("superconducting wires from room temperature", "superconductor-too-warm",
         wrong_edits=((LOOM[0], LOOM[1] % ("room", "plate: 0.3 m")),),
         sound_edits=((LOOM[0], LOOM[1] % ("plate", "still: 0.3 m")),), helped=False),
    Pair("a steel coax past the still", "unanchored-coax",
         wrong=("W2.coax=stainless-304-3.58", "W2.via="), sound=("W2.coax=stainless-304-3.58",)),
    Pair("an anchor that a cold stage hangs on", "anchor-may-fail",
         wrong=("W2.coax=stainless-304-3.58", "stages.base.cooling={10 mK: 0.2 uW, 20 mK: 1 uW}",
                "tones.pump.arriving={X1.in: -90 dBm}"),
         sound=("tones.pump.arriving={X1.in: -90 dBm}",), helped=False),
    Pair("insertion loss and isolation written the wrong way round", "reversed",
         wrong=("I1.insertion_loss=20 dB", "I1.isolation=0.3 dB"),
         sound=("I1.insertion_loss=0.5 dB", "I1.isolation=18 dB")),
    Pair("a pump through a coupler for another band", "outside-band",
         wrong=("C1.band={start: 4 GHz, stop: 8 GHz}",),
         sound=("C1.band={start: 4 GHz, stop: 12 GHz}",), helped=False),
    Pair("a pad too weak for a qubit", "thermal-photons",
         wrong=("A2.loss=20 dB",), sound=("A2.loss=37 dB",)),
    Pair("a pump's load on the coldest stage", "pump-dumped-cold",
         wrong=("tones.pump.arriving={X1.in: -60 dBm}",),
         sound=("tones.pump.arriving={X1.in: -75 dBm}",)),
    Pair("an isolator left out", "no-isolation",
         wrong=("I1.isolation=8 dB",), sound=("I1.isolation=18 dB",)),
    Pair("a lossy coax below the amplifier", "costly-coax",
         wrong=("W3.coax=stainless-304-0.86",), sound=("W3.coax=niobium-titanium-2.19",)),
)
