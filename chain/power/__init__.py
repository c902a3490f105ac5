"""Where the power of tones goes: levels, dissipation, what tones warm.

Others use `tones.power` (a Power with `headrooms`, `cascades` and `along`) and
`self_heating.noise_network`, the one constructor of networks that are asked for noise.
"""
