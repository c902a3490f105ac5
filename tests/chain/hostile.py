"""A layout with unkind text in every place that takes any text."""

import json

SCRIPT = "<script>alert(1)</script>"
UNKIND = f"{SCRIPT} \"q\" 'p' & </title> | `x` *b* [l](j:a)"
RIGHT_TO_LEFT = "שלום \u202eelif\u202c مرحبا"
LONG = "x" * 400
BROKEN = "one\ntwo\r\nthree\tfour\u2028five"
FORMULA = "=cmd|' /C calc'!A0"
ESCAPE = "red \x1b[31malert\x1b[0m, bell \x07"
ALL = (UNKIND, RIGHT_TO_LEFT, LONG, BROKEN, FORMULA, ESCAPE)


def q(text):
    """Return text as a double-quoted YAML scalar."""
    return json.dumps(text)


def hostile_layout(text):
    """Return a layout's YAML with `text` wherever it takes any text."""
    return f"""
title: {q(text)}
note: {q(text)}
band: {{start: 4 GHz, stop: 8 GHz, points: 5}}
stages:
  room:   {{temperature: 295 K, note: {q(text)}}}
  plate:  {{temperature: 4 K, cooling: {{3 K: 1 W, 5 K: 2 W}}, note: {q(text)},
            other: {{{q(text)}: 1 mW}}}}
  mixing: {{temperature: 20 mK, cooling: {{10 mK: 2 uW, 100 mK: 400 uW}}}}
materials:
  ours: {{conductivity: {{1 mK: 1 W/(m K), 400 K: 20 W/(m K)}}, note: {q(text)}}}
coax:
  cupronickel-2.19: {{note: {q(text)}}}
lines:
  receive:
    note: {q(text)}
    elements:
      - {{id: S1, kind: port, stage: room, note: {q(text)}, tag: {q(text)}, serial: {q(text)},
          connectors: {{port: {q(text)}}}, tool: {q(text)}, cost: 12 EUR}}
      - {{id: W1, kind: cable, from: room, to: plate, length: 0.6 m, coax: cupronickel-2.19,
          note: {q(text)}, tag: {q(text)}, connectors: {{in: {q(text)}, out: {q(text)}}}}}
      - {{id: A1, kind: attenuator, stage: plate, loss: 20 dB, tool: {q(text)}}}
      - {{id: W2, kind: cable, from: plate, to: mixing, length: 0.5 m, coax: cupronickel-0.86}}
      - {{id: D1, kind: device, stage: mixing, note: {q(text)}}}
      - {{id: W3, kind: cable, from: mixing, to: plate, length: 0.5 m, coax: cupronickel-0.86}}
      - {{id: H1, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K,
          serial: {q(text)}}}
      - {{id: W4, kind: cable, from: plate, to: room, length: 0.6 m, coax: cupronickel-2.19}}
      - {{id: R1, kind: port, stage: room}}
  wires:
    - {{id: L1, kind: loom, from: room, to: plate, length: 0.6 m, count: 10, material: ours,
        diameter: 0.1 mm, note: {q(text)}}}
tones:
  probe: {{into: S1, frequency: 6 GHz, power: -20 dBm, note: {q(text)}}}
signals:
  receive: {{from: D1.out, to: R1, note: {q(text)}}}
accept: {{untagged: {q(text)}}}
"""
