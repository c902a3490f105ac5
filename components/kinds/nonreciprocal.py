"""Isolators and circulators."""

import numpy as np

from components.declaration import LOSS, Caution, Kind, kind
from components.nport import magnitude2
from components.parameters import Measure, Parameter, ParameterError
from components.phases import UnknownPhase, backward, reflection_phase

ISOLATION = Parameter(
    "isolation", Measure("ratio", least=0.0, over_frequency=True),
    "loss the wrong way; infinite where not given",
)

MAGNET = (
    Caution("it has a magnet inside: keep it clear of magnetic shields, of steel tools and of "
            "others of its kind"),
)


@kind
class Isolator(Kind):
    """A matched two-port: S21 = 10^(-insertion_loss/20), S12 = 10^(-isolation/20).

    Toward its input it emits (1 - 1/isolation) N: nearly a load at its own temperature.
    """

    name = "isolator"
    summary = "Lets waves through one way; what comes back is absorbed at its stage."
    noise = "Emits as a passive part at its temperature: back toward its input nearly as a load."
    parameters = (
        Parameter("insertion_loss", LOSS, "loss the right way", "0 dB"),
        ISOLATION,
    )
    example = "{id: I1, kind: isolator, stage: mixing, insertion_loss: 0.3 dB, isolation: 20 dB}"

    def phases(self, settings):
        return backward("isolation") if settings.given("isolation") else ()

    def fragility(self, settings):
        return 1

    def handling(self, settings):
        return MAGNET

    def scattering(self, settings, at):
        s = {(1, 0): settings.lets_through("insertion_loss", at)}
        back = settings.lets_through("isolation", at)
        if back is not None:
            s[0, 1] = back
        return s


@kind
class Circulator(Kind):
    """A three-port that passes 1 to 2, 2 to 3 and 3 to 1, with equal ports.

    Without `return_loss` it is the lossless circulator whose ports reflect what unitarity asks
    (r = -l i / (l + i) for amplitudes l forward and i backward), times the insertion loss.  With
    `return_loss` the reflection has that size and an unknown phase, so for every phase it must
    hold that the singular values |r + l w^k + i w^2k|, w = exp(2 pi j / 3), stay below one.
    """

    name = "circulator"
    summary = "Passes waves from port 1 to 2, 2 to 3, 3 to 1."
    port_names = ("1", "2", "3")
    route = ("1", "2")
    without = frozenset({"return_loss"})
    parameters = (
        Parameter("insertion_loss", LOSS, "loss the right way round", "0 dB"),
        ISOLATION,
        Parameter(
            "return_loss", Measure("ratio", least=0.0, above=True, over_frequency=True),
            "reflection at each port; as much as it isolates where not given",
        ),
    )
    example = (
        "{id: K1, kind: circulator, stage: mixing, insertion_loss: 0.3 dB, isolation: 20 dB, "
        "loads: ['3']}"
    )

    def holds_reflections(self, settings):
        return True

    def reflection_names(self, settings):
        return ("every port",)

    def phases(self, settings):
        """Return two phases, as many as there are that leave the ways through as they are.

        With l real, unitarity ties the phases of what leaks and of what is reflected to one
        another: reflections a, b, -(a + b) at ports 1, 2, 3, leaks a + b from 2 to 1, -a from 3 to
        2, -b from 1 to 3.  A phase of `isolation` that is given is that of the latter two.
        """
        if not settings.first("isolation", "return_loss"):
            return ()
        parameter = "isolation" if settings.given("isolation") else "return_loss"
        return (
            UnknownPhase(parameter, "a", {"1": 1}, {"3": -1}, sign=-1),
            UnknownPhase(parameter, "b", {"1": 1, "2": 1}, {"1": -1, "3": -1}, sign=-1),
        )

    def fragility(self, settings):
        return 1

    def handling(self, settings):
        return MAGNET

    def scattering(self, settings, at):
        forward = settings.lets_through("insertion_loss", at)
        back = settings.lets_through("isolation", at)
        reflection = settings.lets_through("return_loss", at)
        if reflection is not None:
            self._passive(forward, back, reflection)
            reflection = reflection * reflection_phase(settings, at, "every port")
        elif back is not None:
            forward, reflection = self._unitary(back / forward, forward)
        s = {}
        for i in range(3):
            s[(i + 1) % 3, i] = forward
            if back is not None:
                s[i, (i + 1) % 3] = back
            if reflection is not None:
                s[i, i] = reflection
        return s

    @staticmethod
    def _unitary(back, scale):
        """Return forward and reflection of the lossless circulator, times `scale`."""
        if np.any(back >= 0.6):
            # l = i = r in size at 2/3: there is no circulator with less isolation than that.
            raise ParameterError(
                "isolation", "a circulator cannot isolate less than about 4.5 dB",
                "give a higher isolation, or say return_loss",
            )
        # l^2 + i^2 + r^2 = 1 with r = -l i / (l + i) is the square of l^2 + l i + i^2 = l + i.
        forward = (1.0 - back + np.sqrt((1.0 - back) * (1.0 + 3.0 * back))) / 2.0
        return scale * forward, -scale * forward * back / (forward + back)

    @staticmethod
    def _passive(forward, back, reflection):
        back = 0.0 if back is None else back
        turn = np.exp(2j * np.pi / 3)
        worst = max(
            np.max(np.sqrt(magnitude2(forward * turn**k + back * turn ** (2 * k))) + reflection)
            for k in range(3)
        )
        if worst <= 1 + 1e-12:
            return
        room = 1.0 - np.max(reflection + back)
        instead = "raise isolation and return_loss"
        if room > 0:
            least = np.ceil(-20 * np.log10(room) * 1e4) / 1e4
            instead = f"give an insertion_loss of at least {least:.4f} dB, or leave return_loss out"
        raise ParameterError(
            "insertion_loss",
            "no passive circulator has this isolation and return loss with so little loss", instead,
        )
