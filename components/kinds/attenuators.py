"""Matched pads."""

from components.declaration import LOSS, Kind, kind
from components.direct_current import Passage
from components.faults import extra_loss, in_state, other_pads
from components.hot_films import HOT, TYPICAL, hot_problems, stated_law
from components.parameters import Parameter
from components.quantities import Table


@kind
class Attenuator(Kind):
    """A matched, reciprocal pad: S21 = S12 = 10^(-loss/20).

    Its resistors are films whose electrons tones warm above its stage (components.hot_films); one
    temperature stands for all of them.
    """

    name = "attenuator"
    also_called = ("pad",)
    symbol = "attenuator"
    serves = "attenuation"
    usual = {"loss": "10 dB"}
    absorbs = True
    unchanged_when_warm = True
    summary = "A matched pad that absorbs its loss at its stage."
    parameters = (
        Parameter("loss", LOSS, "loss from one port to the other", required=True),
        *HOT,
    )
    example = "{id: A1, kind: attenuator, stage: plate, loss: 20 dB}"

    def check(self, settings):
        """Yield what is missing of the law for hot resistors."""
        yield from hot_problems(settings)

    def direct_current(self, settings, enter):
        """Its resistors divide it; a loss over frequency is taken at the lowest one it is given."""
        loss = settings["loss"]
        if settings.given("data"):
            return None
        loss_db = loss.values[0] if isinstance(loss, Table) else loss.value
        return Passage("out" if enter == "in" else "in", pad_db=loss_db)

    def scattering(self, settings, at):
        through = settings.lets_through("loss", at)
        return {(0, 1): through, (1, 0): through}

    def hot_law(self, settings):
        return stated_law(settings) or TYPICAL

    def faults(self, settings):
        """Return loss, none at all (left out, or a short of its film), and a pad mistaken."""
        return (
            extra_loss(1.0), in_state("bypassed", 0.3), *other_pads(settings, "loss", 0.6),
        )
