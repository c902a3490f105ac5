"""Twenty ways to break each demo layout, and the rule that ought to find each.

A study: run `python tests/chain/advice/breakages.py` to read what check says about every one.
"""

import shutil
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

DEMOS = Path(__file__).parents[3] / "demo_chains"


@dataclass(frozen=True)
class Breakage:
    """One way to break a demo: `changes` as --set takes them, `edits` of the file's text."""

    name: str
    code: str
    """The rule that ought to find it."""
    element: str | None
    """An element that it ought to name; None for a stage or the file."""
    changes: tuple[str, ...] = ()
    edits: tuple[tuple[str, str], ...] = ()


def _set(name, code, element, *changes):
    return Breakage(name, code, element, changes=changes)


def _edit(name, code, element, *edits):
    return Breakage(name, code, element, edits=edits)


def _without(text):
    """Return the edit that takes an element's line out."""
    return (f"    - {{id: {text},", f"    # - {{id: {text},")


_PROBE = "tones:\n  probe: {into: S1, frequency: 5.5 GHz, power: 0 dBm}\n"
_LOADED = (
    ("reversed: true}", "reversed: true, loads: [isolated]}"),
    ("  pump-back:", "  #"), ("    - {join: C1.isolated}", "    #"), _without("W7"), _without("T1"),
)

HALOSCOPE = (
    _set("first isolator reversed", "reversed", "I1", "I1.reversed=true"),
    _set("first isolator weak", "no-isolation", "D1", "I1.isolation=6 dB"),
    _edit("first isolator left out", "no-isolation", "D1", _without("I1")),
    _edit("second isolator left out", "paramp-unguarded", "X1", _without("I2")),
    _set("pump lowered, its gain stated for more", "pump-level", "X1",
         "tones.pump.arriving={X1.in: -36 dBm}"),
    _set("coupler the other way", "pump-to-device", "C1", "C1.reversed=false"),
    _edit("coupler's spare port loaded cold", "pump-dumped-cold", "C1", *_LOADED),
    _set("pump's end brought to the cold plate", "pump-dumped-cold", "T1",
         "W7.to=middle", "W7.via=", "T1.stage=mixing"),
    _set("normal coax below the first amplifier", "costly-coax", "W3",
         "X1.gain=8 dB", "W3.coax=cupronickel-0.86"),
    _set("superconducting coax from the shield", "superconductor-too-warm", "W6",
         "W6.from=shield", "W6.via={plate: 0.1 m, still: 0.2 m, middle: 0.35 m}"),
    _set("drive line with 20 dB less", "thermal-photons", "D1", "A2.loss=10 dB"),
    _set("cold attenuator moved up to the plate", "thermal-photons", "D1", "A2.stage=plate"),
    _set("amplifier for another band", "outside-band", "H1",
         "H1.band={start: 5 GHz, stop: 8 GHz}"),
    _edit("a probe near the paramp's compression", "near-compression", "X1",
          ("tones:\n", _PROBE), ("pump_loss: 0.5 dB", "pump_loss: 0.5 dB, p1db_in: -58 dBm")),
    _set("two male connectors", "no-mate", "H1",
         "W3.connectors={out: SMA male}", "H1.connectors={in: SMA male}"),
    _set("copper held by steel screws", "clamp-loosens", "A2",
         "A2.clamp={body: copper, screws: stainless}"),
    _set("first amplifier without a name", "untagged", "H1", "H1.tag="),
    _set("a serial number twice", "same-serial", "I1", "I1.serial=0042", "I2.serial=0042"),
    _set("attenuation that ends above the signal band", "idler-warmer", "X1",
         "tones.pump.frequency=20 GHz",
         "A2.loss={4 GHz: 30 dB, 8 GHz: 30 dB, 11 GHz: 2 dB, 20 GHz: 2 dB}"),
    _set("a plate that cools little", "over-cooling", None,
         "stages.plate.cooling={3.5 K: 5 mW, 4.2 K: 25 mW}"),
    _edit("no amplifier behind the paramp", "nothing-behind-paramp", "X1",
          _without("H1"), _without("H2")),
    _set("a load at room temperature", "warm-load", "T1", "T1.temperature=295 K"),
    _set("first amplifier reversed", "reversed", "H1", "H1.reversed=true"),
    _set("two tags alike", "same-tag", "H1", "H1.tag=H-2"),
    _set("a warmer line for the pump", "side-port-noise", "F1", "A3.loss=0 dB",
         "accept.side-port-noise.A3="),
    _set("diplexer left by its other port", "lossy-part", "Y1", "Y1.crossover=3 GHz"),
    _edit("a pad behind the device", "lossy-part", "A9",
          ("    - {id: I1,", "    - {id: A9, kind: attenuator, stage: mixing, loss: 3 dB}\n"
           "    - {id: I1,")),
    _set("a paramp with little gain", "paramp-weak", "X1", "X1.gain=6 dB"),
    _set("a cable without its anchors", "unanchored-coax", "W3", "W3.via="),
    _set("a misspelt acceptance", "unknown-accept", None, "accept.no-isolaton=because"),
    _set("a pump attenuator with a digit too many", "absurd-generator", "A3", "A3.loss=100 dB"),
    _set("no filter behind the pump's generator", "side-port-noise", "S2", "F1.state=bypassed"),
    _set("a small pad under the pump", "over-rating", "A3", "A3.max_power=5 mW"),
    _set("a stage planned to its limit", "close-to-cooling", None,
         "stages.mixing.other={wires: 1.5 uW}"),
    _set("the pump's last cable of a normal metal", "self-heated-cable", "W6",
         "W6.coax=cupronickel-0.86"),
)

QUBIT_ROW = (
    _set("no isolation left", "no-isolation", "D1", "I1.state=bypassed", "I2.state=bypassed"),
    _set("an isolator reversed", "reversed", "I2", "I2.reversed=true"),
    _set("an amplifier reversed", "reversed", "H2", "H2.reversed=true"),
    _set("normal coax below the amplifiers", "costly-coax", "W3", "W3.coax=cupronickel-2.19"),
    _set("superconducting coax from the room", "superconductor-too-warm", "W1",
         "W1.coax=niobium-titanium-0.86"),
    _set("readout without cold attenuation", "thermal-photons", "D1", "A2.loss=0 dB"),
    _set("drive lines with little cold attenuation", "thermal-photons", "Q-12", "P3.loss=3 dB"),
    _set("drive attenuators a stage too warm", "thermal-photons", "Q-1", "P2.stage=plate",
         "V2.to=plate", "V2.from=plate", "V2.via=", "V2.to=", "V2.from=", "V2.stage=plate",
         "V3.from=plate", "V3.via={middle: 0.1 m}"),
    _edit("a dc block in a flux line", "blocked-current", "O9-1",
          ("    copies: 12\n", "    copies: 12\n    current: 1 mA\n"),
          ("      - {id: V3,", "      - {id: O9, kind: dc-block, stage: mixing}\n      - {id: V3,")),
    _set("superconducting flux lines from the room", "current-not-carried", "V1-1",
         "lines.drive.current=1 mA", "V1.coax=niobium-titanium-0.86"),
    _set("one drive line that differs", "thermal-photons", "Q-7", "P3-7.state=bypassed"),
    _set("amplifier for another band", "outside-band", "H1",
         "H1.band={start: 5 GHz, stop: 7 GHz}"),
    _set("a probe near compression", "near-compression", "H2",
         "tones.probe.arriving=", "tones.probe.power=0 dBm", "H2.p1db_out=-35 dBm"),
    _set("pads that nobody measured", "film-guess", "P3-1",
         "P3.hot_power=", "P3.hot_temperature="),
    _set("a hot probe", "pump-dumped-cold", "A2",
         "tones.probe.arriving=", "tones.probe.power=10 dBm"),
    _set("connectors of two families", "no-mate", "I1",
         "F1.connectors={out: SMA female}", "I1.connectors={in: SMP male}"),
    _set("a connector of no standard", "connector-unknown", "I1", "I1.connectors={in: SMX male}"),
    _set("aluminium held by steel screws", "clamp-loosens", "F1",
         "F1.clamp={body: aluminium-6061, screws: stainless-304}"),
    _set("clamp of unknown metal", "clamp-unknown", "A2",
         "A2.clamp={body: copper, screws: phosphor-bronze}"),
    _set("an amplifier without a name", "untagged", "H2", "H2.tag="),
    _set("a part that costs without a name", "untagged", "V1-1", "V1.cost=320 EUR"),
    _set("one serial number for all copies", "same-serial", "P3-3", "P3.serial=17"),
    _set("two tags alike", "same-tag", "I2", "I2.tag=I-11"),
    _set("a plate that cools little", "over-cooling", None,
         "stages.plate.cooling={3.0 K: 5 mW, 4.2 K: 12 mW}"),
    _set("a stage planned to its limit", "close-to-cooling", None,
         "stages.plate.other={magnet leads: 1 W}"),
    _set("the noisier amplifier first", "noisier-first", "H1", "H1.noise_temperature=40 K"),
    _set("the first cold amplifier dead", "out-of-order", "H1", "H1.state=dead"),
    _set("a band beyond the filter's file", "no-answer", None, "band.stop=10 GHz"),
)

STUDIES = {"haloscope.yaml": HALOSCOPE, "qubit_row.yaml": QUBIT_ROW}


def broken(demo, breakage, folder):
    """Return the Layout of a demo, broken; its files are written into `folder`."""
    import chain

    for file in DEMOS.iterdir():
        if file.suffix in (".yaml", ".s2p"):
            shutil.copy(file, folder)
    path = Path(folder) / demo
    text = path.read_text(encoding="utf-8")
    for old, new in breakage.edits:
        if old not in text:
            raise ValueError(f"{breakage.name}: {demo} has no {old!r} to change")
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    return chain.load(path, breakage.changes)


def main():
    """Print what check says about every breakage, or about those whose names hold a word."""
    from chain.advice.check import check

    words = sys.argv[1:]
    for demo, breakages in STUDIES.items():
        for breakage in breakages:
            if words and not any(word in breakage.name for word in words):
                continue
            with tempfile.TemporaryDirectory() as folder:
                advice = check(broken(demo, breakage, folder))
            print(f"== {demo}: {breakage.name} -> {breakage.code} {breakage.element or ''}")
            for finding in advice.every:
                hit = "*" if finding.code == breakage.code else " "
                print(f" {hit} {finding.level}: {finding.code} {', '.join(finding.elements)}: "
                      f"{finding.says}\n       remedy: {finding.remedy}")


if __name__ == "__main__":
    main()
