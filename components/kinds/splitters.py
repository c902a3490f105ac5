"""Splitters, bias-tees, dc blocks and switches."""

import numpy as np

from components.declaration import LOSS, Kind, kind
from components.direct_current import BLOCKED, Passage
from components.nport import bosma, evenly_lossy
from components.parameters import Choice, Measure, Parameter, ParameterError, PortName, Whole
from components.phases import UnknownPhase, planes

INSERTION_LOSS = Parameter("insertion_loss", LOSS, "dissipated on every path through", "0 dB")

_ISOLATION = Measure("ratio", over_frequency=True)


@kind
class Splitter(Kind):
    """Halves the power of `common`, with a resistor between `first` and `second`.

    In phase the two outputs are one matched port; out of phase they see the resistor, which takes
    all of it where it is exact.  With a given isolation the resistor is off: the out-of-phase wave
    is partly reflected, and the outputs reflect as much as they leak.  E. J. Wilkinson, An N-way
    hybrid power divider, IRE Trans. MTT 8, 116 (1960) (from memory).
    """

    name = "splitter"
    also_called = ("divider", "power-divider", "combiner")
    symbol = "splitter"
    summary = "Halves what arrives at `common` between `first` and `second`, which are isolated."
    noise = "Emits as a passive part at its temperature; its resistor reaches the two outputs only."
    port_names = ("common", "first", "second")
    route = ("common", "first")
    parameters = (
        INSERTION_LOSS,
        Parameter(
            "isolation", _ISOLATION,
            "loss between `first` and `second`, which reflect as much; infinite where not given",
        ),
    )
    example = "{id: P1, kind: splitter, stage: mixing, insertion_loss: 0.3 dB, loads: [second]}"

    def phases(self, settings):
        """Return the phase of the out-of-phase wave's reflection: of leak and mismatch together."""
        if not settings.given("isolation"):
            return ()
        return (UnknownPhase("isolation", "leak", {"first": 1, "second": 1}, {"common": -1}),)

    def scattering(self, settings, at):
        half = settings.lets_through("insertion_loss", at) / np.sqrt(2.0)
        s = {(0, 1): half, (1, 0): half, (0, 2): half, (2, 0): half}
        leak = settings.lets_through("isolation", at)
        if leak is not None:
            if np.any(leak > 0.5):
                raise ParameterError(
                    "isolation", "a splitter with matched halves cannot isolate less than 6.02 dB",
                    "give at least 6.03 dB",
                )
            s |= {(1, 2): leak, (2, 1): leak, (1, 1): -leak, (2, 2): -leak}
        return s


@kind
class BiasTee(Kind):
    """A through from `rf` to `both`; `dc` hangs on it by a choke.

    The choke is a reactance x in series with the `dc` port, of the size that gives the isolation:
    |S| = 2 / |3 + 2 j x| from `dc` to the others.  Lossless but for the insertion loss; `dc`
    reflects what does not pass the choke, and all of it where the isolation is infinite.
    """

    name = "bias-tee"
    symbol = "bias-tee"
    unchanged_when_warm = True
    summary = "Passes `rf` to `both`, where a bias is added from `dc`."
    noise = "Emits by its insertion loss; `dc` reflects microwaves."
    port_names = ("rf", "both", "dc")
    dc_port = "dc"
    route = ("rf", "both")
    parameters = (
        INSERTION_LOSS,
        Parameter(
            "isolation", _ISOLATION, "loss from `dc` to the others; infinite where not given"
        ),
    )
    example = "{id: Z1, kind: bias-tee, stage: mixing, insertion_loss: 0.2 dB, loads: [dc]}"

    def direct_current(self, settings, enter):
        """By the choke from `dc` to `both`; a capacitor keeps it from `rf`."""
        between = {"dc": "both", "both": "dc"}
        return Passage(between[enter], stated=False) if enter in between else BLOCKED

    def phases(self, settings):
        return planes("isolation", *(self.port_names if settings.given("isolation") else ("dc",)))

    def scattering(self, settings, at):
        kept = settings.lets_through("insertion_loss", at)
        reactance = _reactance(settings, at, kept, branches=1)
        if reactance is None:
            return {(0, 1): kept, (1, 0): kept, (2, 2): kept}
        return star((1.0, 1.0, 1.0 / (1.0 + 1j * reactance)), kept)

    def emission(self, settings, at, scattering):
        return evenly_lossy(3, settings.lets_through("insertion_loss", at), at.emitted)


@kind
class DcBlock(Kind):
    """A matched through at microwave frequencies, open at dc."""

    name = "dc-block"
    symbol = "dc-block"
    unchanged_when_warm = True
    summary = "Passes microwaves and no direct current."
    parameters = (INSERTION_LOSS,)
    example = "{id: O1, kind: dc-block, stage: room, insertion_loss: 0.2 dB}"

    def direct_current(self, settings, enter):
        return BLOCKED

    def scattering(self, settings, at):
        kept = settings.lets_through("insertion_loss", at)
        return {(0, 1): kept, (1, 0): kept}


@kind
class Switch(Kind):
    """A through from `common` to the throw that `position` names.

    Throws not selected are open, each joined to the through by the small capacitance that gives the
    isolation, or have a matched load inside, which takes what leaks.
    """

    name = "switch"
    symbol = "switch"
    breaks = True
    summary = "Joins `common` to one of its throws, 1, 2, ..."
    noise = "Emits by its insertion loss, and as a load from each throw that is closed by a load."
    parameters = (
        Parameter("throws", Whole(1, 64), "number of throws, numbered from 1", "2"),
        Parameter("position", PortName(), "the throw that is joined to `common`", required=True),
        Parameter(
            "unselected", Choice(("open", "matched")), "what the other throws are", "open",
            source="common practice, no source",
        ),
        INSERTION_LOSS,
        Parameter(
            "isolation", _ISOLATION, "loss to the other throws; infinite where not given"
        ),
    )
    example = (
        "{id: K2, kind: switch, stage: mixing, throws: 2, position: 1, insertion_loss: 0.1 dB, "
        "loads: ['2']}"
    )

    def direct_current(self, settings, enter):
        between = {"common": settings["position"], settings["position"]: "common"}
        return Passage(between[enter], stated=False) if enter in between else BLOCKED

    def ports(self, settings):
        return ("common", *(str(throw + 1) for throw in range(settings["throws"])))

    def default_route(self, settings):
        return ("common", settings["position"])

    def check(self, settings):
        """Yield a position that is no throw."""
        throws = self.ports(settings)[1:]
        if settings["position"] not in throws:
            yield ParameterError(
                "position", f"the switch has no throw {settings['position']!r}",
                f"name one of {', '.join(throws[:12])}{' ...' if len(throws) > 12 else ''}",
            )

    def phases(self, settings):
        if settings["unselected"] == "matched":
            return ()
        ports = self.ports(settings)
        if not settings.given("isolation"):
            ports = [port for port in ports if port not in ("common", settings["position"])]
        return planes("isolation", *ports)

    def scattering(self, settings, at):
        kept = settings.lets_through("insertion_loss", at)
        ports = self.ports(settings)
        on = ports.index(settings["position"])
        off = [index for index in range(1, len(ports)) if index != on]
        s = {(0, on): kept, (on, 0): kept}
        if not off:
            return s
        if settings["unselected"] == "matched":
            return s | _leaks_to_loads(settings, at, kept, on, off)
        reactance = _reactance(settings, at, kept, branches=len(off))
        if reactance is None:
            return s | {(index, index): kept for index in off}
        branch = 1.0 / (1.0 - 1j * reactance)
        return star([1.0 if index in (0, on) else branch for index in range(len(ports))], kept)

    def emission(self, settings, at, scattering):
        if settings["unselected"] == "matched":
            return bosma(scattering, len(self.ports(settings)), at.emitted)
        count = len(self.ports(settings))
        return evenly_lossy(count, settings.lets_through("insertion_loss", at), at.emitted)


def star(admittances, kept):
    """Return S of ports joined in one node, each by a series impedance, times `kept`.

    `admittances` are 1 / (1 + z) of the ports, z being the impedance over 50 ohm: one for a port
    that is joined directly.  S_ij = 2 y_i y_j / sum(y), and 1 - 2 y_i more on the diagonal.
    """
    total = sum(admittances)
    s = {}
    for i, own in enumerate(admittances):
        for j, other in enumerate(admittances):
            s[i, j] = kept * (2.0 * own * other / total + (i == j) * (1.0 - 2.0 * own))
    return s


def _reactance(settings, at, kept, *, branches):
    """Return the size of the reactance that gives the isolation of `branches`, or None for none.

    Over 50 ohm.  From a branch to a port that is joined directly |S| = 2 / |2 + n + 2 j x|.
    """
    leak = settings.lets_through("isolation", at)
    if leak is None:
        return None
    leak = leak / kept
    most = 2.0 / (2.0 + branches)
    if np.any(leak > most * (1 + 1e-12)):
        least_db = np.ceil(-2e4 * np.log10(most * np.min(kept))) / 1e3
        raise ParameterError(
            "isolation", "ports joined in one node leak less than this, whatever is between them",
            f"give at least {least_db:.3f} dB",
        )
    return np.sqrt(np.maximum(1.0 / leak**2 - 1.0 / most**2, 0.0))


def _leaks_to_loads(settings, at, kept, on, off):
    """Return the leaks of the through to throws with a load inside.

    The through and n matched throws stay passive while (k + sqrt(k^2 + 8 n l^2)) / 2 <= 1.
    """
    leak = settings.lets_through("isolation", at)
    if leak is None:
        return {}
    room = 1.0 - 2.0 * len(off) * leak**2
    if np.any(kept > room * (1 + 1e-12)):
        if np.any(room <= 0):
            raise ParameterError(
                "isolation", "no passive switch leaks this much to matched throws",
                f"give at least {10 * np.log10(2.0 * len(off)) + 0.01:.2f} dB",
            )
        least_db = np.ceil(np.max(-2e5 * np.log10(room))) / 1e4
        raise ParameterError(
            "insertion_loss", "no passive switch has this isolation with so little loss",
            f"give an insertion_loss of at least {least_db:.4f} dB, or a higher isolation",
        )
    return {pair: leak for k in off for pair in ((0, k), (k, 0), (on, k), (k, on))}
