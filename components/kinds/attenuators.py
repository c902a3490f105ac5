"""Matched pads."""

from components.declaration import LOSS, Kind, Parameter, kind


@kind
class Attenuator(Kind):
    """A matched, reciprocal pad: S21 = S12 = 10^(-loss/20)."""

    name = "attenuator"
    summary = "A matched pad that absorbs its loss at its stage."
    parameters = (Parameter("loss", LOSS, "loss from one port to the other", required=True),)
    example = "{id: A1, kind: attenuator, stage: plate, loss: 20 dB}"

    def scattering(self, settings, at):
        through = settings.lets_through("loss", at)
        return {(0, 1): through, (1, 0): through}
