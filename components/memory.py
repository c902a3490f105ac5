"""Responses worked out lately, so that an element which has not changed is not asked again."""

from collections import OrderedDict

import numpy as np

from components.conditions import no_phase
from components.touchstone import DataError

MAX_VALUES = 4_000_000
"""Numbers kept in all, 64 MB at most."""


class Memory:
    """NPorts by what they follow from; the oldest go first when there are too many numbers."""

    def __init__(self, most_values=MAX_VALUES):
        self._most, self._values = most_values, 0
        self._kept = OrderedDict()

    def recall(self, kind, settings, conditions, work_out):
        """Return `work_out()`, or what it gave for the same settings and conditions.

        `conditions` is a tuple, one for each frequency band.  Nothing is kept where drawn phases or
        varied parameters make the answer one of many.
        """
        if not all(_one_answer(at) for at in conditions):
            return work_out()
        try:
            data = settings["data"].data if settings.given("data") else None
        except DataError:
            return work_out()  # which says where and what is wrong
        key = (id(kind), id(settings), id(data), *(self._mark(at) for at in conditions))
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key][-1]
        nport = work_out()
        # Settings and file are kept with it, so that their ids stay their own.
        self._keep(key, (settings, data, nport))
        return nport

    def clear(self):
        """Forget everything."""
        self._kept.clear()
        self._values = 0

    @staticmethod
    def _mark(at):
        grid = at.shared.grid(at.frequency_hz)
        return (
            grid, at.temperature_k, at.anchors, at.pump_hz, at.uniform_k, at.heating, at.generators,
        )

    def _keep(self, key, entry):
        self._kept[key] = entry
        self._values += _size(entry[-1])
        while self._values > self._most:
            _, old = self._kept.popitem(last=False)
            self._values -= _size(old[-1])


def _one_answer(at):
    """Tell whether conditions hold no draws of phases or of varied values."""
    return at.phase is no_phase and not at.vary and not any(
        np.ndim(kelvin) for kelvin in (at.temperature_k, *(kelvin for _, kelvin in at.anchors))
    )


def _size(nport):
    entries = (*nport.scattering.values(), *nport.emission.values())
    return 8 + sum(np.size(entry) for entry in entries)
