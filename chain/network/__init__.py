"""Elements joined at given frequencies: assembly, the one linear solve, its laws.

Others use `assembly.Network` (by `scattering_network`; for noise, by
`chain.power.self_heating.noise_network`), `path`, `laws` and `two_port`.
"""
