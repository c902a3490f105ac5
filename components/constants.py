"""Physical constants, each with its source; literals, since importing scipy.constants is slow."""

H = 6.62607015e-34
"""Planck constant, J s; exact (SI 2019, BIPM SI Brochure, 9th ed., table 1)."""

K = 1.380649e-23
"""Boltzmann constant, J/K; exact (SI 2019, BIPM SI Brochure, 9th ed., table 1)."""

C = 299_792_458.0
"""Speed of light in vacuum, m/s; exact (SI 2019, BIPM SI Brochure, 9th ed., table 1)."""

MU0 = 1.25663706127e-6
"""Vacuum permeability, N/A^2 (CODATA 2022; from memory, equals 4 pi 1e-7 within 2e-10)."""

T0 = 290.0
"""Standard noise temperature, K (H. T. Friis, Noise figures of radio receivers, Proc. IRE 32,
419, 1944)."""

Z0 = 50.0
"""Reference resistance of every port, ohm."""

VACUUM = 0.5
"""Quanta that a mode carries at zero temperature, symmetrised (H. B. Callen and T. A. Welton,
Irreversibility and generalized noise, Phys. Rev. 83, 34, 1951)."""
