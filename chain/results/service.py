"""Service sheets as the face gives them."""

from __future__ import annotations

from typing import Any

from chain.results.shown import Brief, Shown
from chain.service import plan
from chain.writing.text import TextTable


class Service(Shown, plan.Service):
    """A service sheet that shows itself; `rows` are its steps, disassembly first."""

    def brief(self) -> Brief:
        """Return a row a joint to disconnect, in order."""
        columns = ["step", "joint", "stage", "together with", "frees"]
        table = TextTable(columns, left=columns[1:])
        for number, step in enumerate(self.undo, 1):
            table.add(str(number), step.joint, step.stage, step.rung, ", ".join(step.frees))
        return Brief(
            f"disassembly: to take out {self.what}", table,
            ("reassembly in reverse; print() shows cautions, torque and checks",),
        )

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a step, under the names of `--json`, with its half and number before them."""
        found = self.as_dict()
        return tuple(
            {"half": half, "step": number, **step}
            for half, key in (("disassembly", "undo"), ("reassembly", "redo"))
            for number, step in enumerate(found[key], 1)
        )
