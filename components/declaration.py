"""How a kind of element is declared: its ports, its parameters, what it does.

Everything that reads, checks, describes or documents an element works from these declarations, so
adding a kind means writing one class in components/kinds/ and nothing else.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Mapping, MutableMapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

from components.bounds import LEAST_MISMATCH_DB
from components.faults import Fault, extra_loss
from components.nport import NPort, bosma
from components.parameters import (
    Choice,
    Clamped,
    Cost,
    DataFile,
    Flag,
    FrequencyRange,
    Measure,
    Overrides,
    Parameter,
    PerPort,
    Phases,
    PortList,
    PortName,
    Reference,
    Text,
    Whole,
)
from components.quantities import parse

if TYPE_CHECKING:
    from components.arrays import FloatArray, FloatLike
    from components.conditions import Conditions
    from components.direct_current import Passage, Resistance
    from components.heat_path import HeatPath
    from components.hot_films import HotLaw
    from components.nport import Entries, EntryMap
    from components.parameters import ParameterError
    from components.settings import Settings


@dataclass(frozen=True)
class Caution:
    """What can go wrong when a part is handled, and where that is known from."""

    text: str
    source: str = "common practice, no source"


LOSS = Measure("ratio", over_frequency=True)

MISMATCH = Measure("ratio", least=LEAST_MISMATCH_DB, over_frequency=True)

GAIN = Measure("ratio", least=-100.0, most=100.0, over_frequency=True)
"""One amplifier: beyond 100 dB it oscillates through its own housing (common practice, no source);
a loss where something is wrong with it."""

HOTTEST_K = 1e6
"""What a part may be taken to be at: a noise diode of 35 dB excess noise ratio."""

COMMON = (
    Parameter("stage", Reference("stage"), "where the element is anchored", fixed=True),
    Parameter(
        "temperature", Measure("temperature", most=HOTTEST_K, zero=True),
        "the element's own temperature in place of its stage's", fixed=True,
    ),
    Parameter(
        "reversed", Flag(), "reverse the element: a line enters by its output", "false",
        fixed=True,
    ),
    Parameter("enter", PortName(), "the port by which a line comes in", fixed=True),
    Parameter("leave", PortName(), "the port by which a line goes on", fixed=True),
    Parameter(
        "loads", PortList(), "free ports that carry a matched load at the element's stage",
        fixed=True,
    ),
    Parameter(
        "return_loss", MISMATCH,
        "reflection at each port, of unknown phase; matched where not given",
    ),
    Parameter(
        "phase", Phases(),
        "phases that are known, by the parameter whose phase it is: of return_loss, isolation, ...",
    ),
    Parameter("data", DataFile(), "Touchstone file in place of the scattering values"),
    Parameter(
        "extra_loss", LOSS, "loss beyond the values given, on every path through: a fault", "0 dB"
    ),
    Parameter(
        "connector_loss", LOSS, "loss of the connector at each port, beyond the values given",
        "0 dB",
    ),
    Parameter(
        "max_power", Measure("power"),
        "rating: the most that may arrive at one of its ports, on average", fixed=True,
    ),
    Parameter(
        "dc_resistance", Measure("resistance", zero=True),
        "resistance to the direct current of its line, both ways together",
    ),
    Parameter("band", FrequencyRange(), "where the values are believed; a warning outside"),
    Parameter("warm", Overrides(), "values that differ at room temperature", fixed=True),
    Parameter("connectors", PerPort(), "connector at each port, type and sex", fixed=True),
    Parameter(
        "clamp", Clamped(),
        "metals of what is clamped and of its screws, as they loosen or tighten", fixed=True,
    ),
    Parameter(
        "torque", Measure("torque"),
        "torque of its connectors, as specified by their maker",
    ),
    Parameter("tool", Text(), "tool and thread of what fastens it, as in 'hex key 2.5 mm, M3'"),
    Parameter("tag", Text(), "what is written on the part", fixed=True),
    Parameter("serial", Text(), "serial number", fixed=True),
    Parameter("cost", Cost(), "what it costs to buy again", fixed=True),
    Parameter("spares", Whole(0, 10_000), "how many of it lie ready", fixed=True),
    Parameter(
        "odds", Measure("number", least=0.0, most=1e6),
        "how many times as likely to be at fault as others of its kind, for diagnose", "1",
        fixed=True,
    ),
    Parameter("note", Text(), "anything a person should know", fixed=True),
)
"""Parameters of every kind."""


class Kind:
    """A kind of element.  A subclass declares itself and says how it scatters.

    `parameters` are the kind's own; COMMON ones and `state` come with every kind.
    """

    name = ""
    summary = ""
    """One sentence: what it is."""
    noise = "Emits as a passive part at its temperature (Bosma)."
    port_names: tuple[str, ...] = ("in", "out")
    route: tuple[str | None, str | None] = ("in", "out")
    """The ports by which a line enters and leaves by default."""
    parameters: tuple[Parameter, ...] = ()
    states: tuple[str, ...] = ("ok", "bypassed", "open", "shorted")
    example = ""
    """A line of a layout that loads."""
    passive = True
    spans_stages = False
    """True where the element runs from one stage to another."""
    warms_along = False
    """True where tones warm it along its length: it says where it absorbs (`absorbed_slices`)."""
    outside = False
    """True for an outside connector."""
    is_device = False
    """True for what the lines are for: the device under test."""
    parametric = False
    """True where it can mix signal and idler, driven by its pump: see `pumps`."""
    absorbs = False
    """True where taking power away is its purpose: attenuators and loads."""
    bare = False
    """True for what has no microwave ports and touches what it joins with bare metal: a strap."""
    carries_light = False
    """True for what guides light, so that eyes have to be kept from its ends."""
    absorbs_less = ""
    """A sentence on what makes it absorb less of a strong tone, where moving it is no remedy."""
    unchanged_when_warm = False
    """True where its values hold at room temperature too; else only `warm:` says what it does."""
    dc_port: str | None = None
    """The port into which a direct current is fed, where it has one of its own."""
    serves = ""
    """What it is put into a line for where that is missing: attenuation, isolation, gain, infrared,
    load."""
    usual: Mapping[str, str] = MappingProxyType({})
    """Values of the part that is usually taken for it, as a layout would write them."""
    without = frozenset()
    """Names of COMMON parameters that the kind does not have."""
    also_called: tuple[str, ...] = ()
    """Other words of the field for it, so that who writes one is told this name."""
    symbol = ""
    """Name of its symbol on drawings; a labelled box where empty."""
    beside: tuple[str, ...] = ()
    """Parameters whose values stand beside the symbol; its first two quantities where empty."""

    @classmethod
    def declared(cls) -> Mapping[str, Parameter]:
        """Return every parameter of the kind by name: its own, the state, the common ones."""
        return _declared(cls)

    def default(self, name: str) -> Any:
        """Return the declared default of a parameter, converted, or None."""
        return _defaults(type(self)).get(name)

    def ports(self, settings: Settings) -> tuple[str, ...]:
        """Return the element's ports."""
        return self.port_names

    def default_route(self, settings: Settings) -> tuple[str | None, str | None]:
        """Return the ports by which a line enters and leaves; None where it ends."""
        return self.route

    def check(self, settings: Settings) -> Iterator[ParameterError]:
        """Yield a ParameterError for every value that cannot hold with the others."""
        return iter(())

    def scattering(self, settings: Settings, at: Conditions) -> Entries:
        """Return the entries of S of the matched element."""
        raise NotImplementedError

    def emission(self, settings: Settings, at: Conditions, scattering: EntryMap) -> Entries:
        """Return the upper entries of C, in quanta."""
        return bosma(scattering, len(self.ports(settings)), at.emitted)

    def respond(self, settings: Settings, at: Conditions) -> NPort:
        """Return the NPort of the matched element in working order."""
        scattering = self.scattering(settings, at)
        if type(self).emission is Kind.emission:
            return NPort.thermal(self.ports(settings), scattering, at.emitted)
        return NPort.plain(
            self.ports(settings), scattering, self.emission(settings, at, scattering)
        )

    def phases(self, settings: Settings) -> Any:
        """Return the UnknownPhase of everything that the matched element sends back or leaks."""
        return ()

    def reflection_names(self, settings: Settings) -> Any:
        """Return the names under which `respond` asks for the phases of `return_loss`."""
        return tuple(self.ports(settings))

    def holds_reflections(self, settings: Settings) -> bool:
        """Tell whether `respond` deals with `return_loss` itself."""
        return False

    def pumps(self, settings: Settings) -> bool:
        """Tell whether the element mixes signal and idler: a parametric amplifier, switched on."""
        return False

    def idler_hz(
        self, settings: Settings, *, signal_hz: FloatArray, pump_hz: float
    ) -> FloatArray:
        """Return the idler's frequencies, Hz, shape (points,); only asked of kinds that pump."""
        raise NotImplementedError

    def amplifies(self, settings: Settings) -> bool:
        """Tell whether the element can give power: an amplifier in working order."""
        return False

    @property
    def breaks(self) -> bool:
        """True where it fails, ages or has data of its own, so that it matters which one it was.

        What gives power does, unless the kind says otherwise (common practice, no source).
        """
        return not self.passive

    def is_amplifier(self, settings: Settings) -> bool:
        """Tell whether it is there to give power without a pump, in working order or not."""
        return not self.passive and not self.parametric

    def is_load(self, settings: Settings) -> bool:
        """Tell whether it ends a line and takes what arrives."""
        return self.absorbs and len(self.ports(settings)) == 1

    def known_warm(self, settings: Settings) -> bool:
        """Tell whether what it does at room temperature follows from the values given."""
        return self.unchanged_when_warm

    def assumed(self, settings: Settings) -> Mapping[str, tuple[float, float]]:
        """Return {parameter: (least, most)} of values that it has now and that nobody gave.

        In base units, about the parameter's default: what is usual where a single figure would be
        false precision.
        """
        return {}

    def own_noise(self, settings: Settings, at: Conditions) -> FloatLike | None:
        """Return quanta that the element adds to the wave arriving at it, when it is observed."""
        return None

    def harmed_by_meter(self, settings: Settings) -> bool:
        """Tell whether a meter's current from centre to outer can destroy it.

        What amplifies (transistors, junctions), in working order or not, and devices (common
        practice, no source).
        """
        return self.is_device or not self.passive

    def dissipates(self, settings: Settings) -> float:
        """Return the power in watt that the element turns into heat besides tones: its bias."""
        return 0.0

    def direct_current(self, settings: Settings, enter: str) -> Passage | None:
        """Return the Passage of direct current that enters by a port; None where not known."""
        return None

    def resistance(self, settings: Settings, at: Conditions) -> Resistance | None:
        """Return the Resistance along what spans stages; None where it is not known.

        Raises ParameterError.
        """
        return None

    def heat_path(self, settings: Settings) -> HeatPath | None:
        """Return the HeatPath that conducts between the element's anchors, or None where unknown.

        Only asked of kinds that span stages.
        """
        return None

    def hot_law(self, settings: Settings) -> HotLaw | None:
        """Return the HotLaw by which what it absorbs of tones warms it; None where unknown.

        Matched loads under `loads` have a law of their own (components.hot_films.TYPICAL).
        """
        return None

    def faults(self, settings: Settings) -> tuple[Fault, ...]:
        """Return the ways in which it fails and drifts, for `diagnose`.

        What is passive and joins two ports or more may lose more than it should.
        """
        if self.outside or self.is_device or len(self.ports(settings)) < 2:
            return ()
        return (extra_loss(1.0),)

    def fragility(self, settings: Settings) -> int:
        """Return how early it is opened: 0 heavy and sturdy, 2 a block with connectors, 5 a fibre.

        Common practice, no source.
        """
        return 2

    def handling(self, settings: Settings) -> tuple[Caution, ...]:
        """Return the Cautions for whoever undoes it and puts it back."""
        return ()

    def cautions(self, settings: Settings, at: Conditions) -> Iterator[str]:
        """Yield sentences on what under the conditions `at` holds otherwise than meant."""
        return iter(())


class Kinds(MutableMapping):
    """Kinds by name; the module of one is imported when the kind is asked for."""

    def __init__(self):
        self._modules = {}
        self._registered = {}

    def expect(self, name: str, module: Any) -> None:
        """Note in which module a kind is registered."""
        self._modules[name] = module

    def __getitem__(self, name):
        if name not in self._registered and name in self._modules:
            importlib.import_module(self._modules[name])
        return self._registered[name]

    def __setitem__(self, name, kind):
        self._registered[name] = kind

    def __delitem__(self, name):
        del self._registered[name]

    def __contains__(self, name):
        return name in self._modules or name in self._registered

    def __iter__(self):
        return iter(dict.fromkeys([*self._modules, *self._registered]))

    def __len__(self):
        return len(self._modules.keys() | self._registered.keys())


KINDS = Kinds()
"""Every kind by name; importing components.kinds makes them known."""


AnyKind = TypeVar("AnyKind", bound=Kind)


def kind(cls: type[AnyKind]) -> type[AnyKind]:
    """Register a kind (class decorator)."""
    KINDS[cls.name] = cls()
    return cls


def outside_kind() -> Kind:
    """Return the kind of an outside connector."""
    return next(one for one in KINDS.values() if one.outside)


def usual_part(serves: str, **values: Any) -> tuple[Kind, dict[str, Any]]:
    """Return the kind that is put in for something (see Kind.serves) and typed usual values of it.

    `values` go before the usual ones.  Raises KeyError where no kind serves for that.
    """
    found = next((one for one in KINDS.values() if one.serves == serves), None)
    if found is None:
        raise KeyError(serves)
    declared = found.declared()
    typed = {
        name: parse(text, declared[name].reads.dimension) for name, text in found.usual.items()
    }
    return found, {**typed, **values}


_DECLARED: dict[type, Mapping[str, Parameter]] = {}
_DEFAULTS: dict[type, dict[str, object]] = {}


def _declared(cls):
    if cls not in _DECLARED:
        state = Parameter("state", Choice(cls.states), "what has become of it", "ok")
        every = (*cls.parameters, state, *(p for p in COMMON if p.name not in cls.without))
        _DECLARED[cls] = MappingProxyType({p.name: p for p in every})
    return _DECLARED[cls]


def _defaults(cls):
    if cls not in _DEFAULTS:
        _DEFAULTS[cls] = {
            name: _default_value(p) for name, p in cls.declared().items() if p.default is not None
        }
    return _DEFAULTS[cls]


def _default_value(parameter):
    if isinstance(parameter.reads, Measure):
        return parse(parameter.default, parameter.reads.dimension)
    if isinstance(parameter.reads, Flag):
        return parameter.default == "true"
    if isinstance(parameter.reads, Whole):
        return int(parameter.default)
    return parameter.default


