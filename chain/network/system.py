"""The one linear system for every wave, and its solutions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from chain.network.elimination import Factors, plan_for
from chain.network.graph import WaveGraph
from chain.network.waves import Wave


class WaveSystem(WaveGraph):
    """(I - S P) b = c over the waves of a graph, factored once and asked often."""

    active: bool
    """True where something amplifies on a closed run of waves, so that solutions are checked.

    Pivots are sums over closed runs: where only passive elements close them, no order loses digits.
    """

    def _unsolved(self):
        """Begin anew: nothing is factored or solved."""
        self._factors: Factors | None = None
        self._adjoints: dict[Wave, Any] = {}

    def _factored(self, last=None):
        """Return the factors, made once; `last` is the wave that they are first asked about."""
        if self._factors is None:
            self._factors = Factors(plan_for(self._pattern, self._loops, last), self.entries)
        return self._factors

    def adjoint(self, wave: Wave, *, checked: Any | None = None) -> dict[Wave, Any]:
        """Return the transfers from a unit added to each wave to the observed one.

        {wave: array}; waves that cannot reach it are left out.  The residual is checked where the
        network is active, or as `checked` says.
        """
        check = self.active if checked is None else checked
        known = self._adjoints.get(wave)
        if known is None or check > known[0]:
            target = self.index[wave]
            found = self._solved(self._factored(target), {target: 1.0}, True, check)
            known = self._adjoints[wave] = check, found
        return known[1]

    def adjoint_of(
        self, amplitudes: Mapping[Wave, Any], *, checked: bool | None = None
    ) -> dict[Wave, Any]:
        """Return the transfers from each wave to a sum of observed ones, each times an amplitude.

        Checked as `adjoint` is.
        """
        placed = {self.index[wave]: value for wave, value in amplitudes.items()}
        check = self.active if checked is None else checked
        return self._solved(self._factored(next(iter(placed))), placed, True, check)

    def forward(
        self, sources: Mapping[Wave, Any], *, checked: bool | None = None
    ) -> dict[Wave, Any]:
        """Return every wave that sources {wave: amplitude} give, {wave: array}.

        Checked as `adjoint` is.
        """
        placed = {self.index[wave]: value for wave, value in sources.items()}
        check = self.active if checked is None else checked
        return self._solved(self._factored(), placed, False, check)

    def _solved(self, factors, sources, transposed, checked):
        if checked or not factors.sound:
            found, _ = factors.solve(sources, transposed=transposed)
        else:
            found = (factors.adjoint if transposed else factors.forward)(sources)
        return {self._names[key]: value for key, value in found.items()}
