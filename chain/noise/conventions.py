"""What the numbers of a budget mean, in words for every output."""

CONVENTIONS = (
    "Noise is in quanta (hf per hertz), symmetrised: a matched load at T emits 1/2 coth(hf/2kT), "
    "the vacuum is 1/2 and is counted; photons = quanta less half the commutator of the wave, 1/2 "
    "where it is matched; kelvin = quanta x hf/k.",
    "System noise is everything that reaches the end, referred to the wave at the start: "
    "incoming (what emitters send through that wave, at the signal frequency) + added (what comes "
    "past it, and its interference with that; idler noise always).",
    "Quantum limit of an amplified signal: 1 quantum (1/2 incoming + 1/2 added). "
    "Noise figure = 1 + T_added / 290 K.",
    "Gain is of a unit wave added at the start, the whole network in place, 50 ohm.",
)
