"""The fixed set of phases that stands for reflections of unknown phase."""

import numpy as np

DRAWS = 61
"""Number of phases of a reflection known only in size; prime, so that the lattice is even."""

_SEED = 20_061


class PhaseSet:
    """Unit phasors for the reflections of a network, on the solve's first axis.

    A rank-1 lattice: reflection m turns z_m times over the draws, with distinct z_m below half
    of them, so the mean over the draws is free of every product of two different reflections (of
    up to thirty; beyond that only nearly).  The same layout gets the same phases every time.
    """

    draws = DRAWS

    def __init__(self, names):
        shuffle = np.random.default_rng(_SEED)
        turns = shuffle.permutation(np.arange(1, (DRAWS - 1) // 2 + 1))
        shifts = shuffle.random(len(names))
        draw = np.arange(DRAWS)[:, None]
        self._phasors = {
            name: np.exp(2j * np.pi * (draw * turns[index % len(turns)] / DRAWS + shifts[index]))
            for index, name in enumerate(names)
        }

    def of(self, element):
        """Return the function from port to phasor, shape (draws, 1), of one element."""
        return lambda port: self._phasors[element, port]
