"""How a kind of element is declared: its ports, its parameters, what it does.

Everything that reads, checks, describes or documents an element works from these declarations, so
adding a kind means writing one class in components/kinds/ and nothing else.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from components.nport import NPort, bosma
from components.quantities import OutsideTable, Quantity, Table, parse, power_ratio
from components.thermal_noise import quanta
from components.touchstone import NamedFile


@dataclass(frozen=True)
class Measure:
    """A quantity with a unit; `over_frequency` lets it be a table too."""

    dimension: str
    least: float | None = None
    most: float | None = None
    over_frequency: bool = False
    above: bool = False
    """True where `least` itself is refused: the value has to lie above it."""


@dataclass(frozen=True)
class Whole:
    """A whole number without a unit."""

    least: int = 0
    most: int = 1000


@dataclass(frozen=True)
class Choice:
    """One of a few words."""

    options: tuple[str, ...]


@dataclass(frozen=True)
class Flag:
    """true or false."""


@dataclass(frozen=True)
class Text:
    """Any text."""


@dataclass(frozen=True)
class Cost:
    """An amount and its currency, as in `1200 EUR`."""


@dataclass(frozen=True)
class Reference:
    """The name of something defined elsewhere in the layout: stage, tone, coax, material."""

    to: str


@dataclass(frozen=True)
class PortName:
    """A port of the element itself."""


@dataclass(frozen=True)
class PortList:
    """A list of ports of the element itself."""


@dataclass(frozen=True)
class PerPort:
    """A mapping from ports of the element to text."""


@dataclass(frozen=True)
class Clamped:
    """A mapping with `body` and `screws`, each a material: what is held by what."""


@dataclass(frozen=True)
class Distances:
    """A mapping from stages to distances along the element."""


@dataclass(frozen=True)
class FrequencyRange:
    """A mapping with `start` and `stop`."""


@dataclass(frozen=True)
class DataFile:
    """A Touchstone file, or a mapping with `file` and `outside: hold`."""


@dataclass(frozen=True)
class Overrides:
    """A mapping from other parameters of the element to values that replace them."""


@dataclass(frozen=True)
class Parameter:
    """One key of an element: what it reads, what it means, what holds where it is not given."""

    name: str
    reads: object
    meaning: str
    default: str | None = None
    """The default as a person would write it; None where there is none."""
    required: bool = False
    source: str = ""


@dataclass(frozen=True)
class Caution:
    """What can go wrong when a part is handled, and where that is known from."""

    text: str
    source: str = "common practice, no source"


class ParameterError(ValueError):
    """A parameter's value cannot hold: `parameter`, `what` is wrong, `instead` would be right."""

    def __init__(self, parameter, what, instead):
        super().__init__(f"{what}; {instead}")
        self.parameter, self.what, self.instead = parameter, what, instead


@dataclass(frozen=True)
class Conditions:
    """Where and at which frequencies an element is asked what it does."""

    frequency_hz: np.ndarray
    """Shape (points,)."""
    temperature_k: float
    """Temperature of the element; of a cable with a profile, that of its start."""
    anchors: tuple[tuple[float, float], ...] = ()
    """Cables: (distance from the start over length, kelvin), start to end."""
    pump_hz: float | None = None
    """Frequency of the pump that acts on the element, or None where no pump is on."""
    phase: Callable[[str], object] = field(default=lambda port: 1.0)
    """Unit phasor of a port's reflection where only its size is known: (draws, 1) or a number."""
    vary: Mapping[str, object] = field(default_factory=lambda: MappingProxyType({}))
    """Changes of parameters by name, added to their values: shape (draws, 1), base units.

    A change can also be a function from the value to the changed one.  Either is held inside the
    bounds that the parameter is declared with.
    """
    uniform_k: float | None = None
    """Set for the equilibrium law: every part of every element is at this temperature."""
    shared: "Shared" = field(default_factory=lambda: Shared(), repr=False, compare=False)
    """What elements asked at the same frequencies can share."""

    @property
    def emitted(self):
        """Quanta that a matched load at the element's temperature emits."""
        if np.ndim(self.temperature_k):
            return quanta(frequency_hz=self.frequency_hz, temperature_k=self.temperature_k)
        return self.shared.emitted(self.frequency_hz, self.temperature_k)

    def at_frequency(self, frequency_hz):
        """Return the same conditions at other frequencies (Hz, shape (points,))."""
        return Conditions(
            np.asarray(frequency_hz, float), self.temperature_k, self.anchors, self.pump_hz,
            self.phase, self.vary, self.uniform_k, self.shared,
        )


class Shared:
    """What follows from frequencies alone, worked out once for the elements of a network."""

    def __init__(self):
        self._found = {}

    def emitted(self, frequency_hz, temperature_k):
        """Return the quanta that a matched load at a temperature (K) emits."""
        return self._once(
            frequency_hz, temperature_k,
            lambda: quanta(frequency_hz=frequency_hz, temperature_k=temperature_k),
        )

    def grid(self, frequency_hz):
        """Return the frequencies as bytes: equal for equal frequencies."""
        return self._once(frequency_hz, "grid", frequency_hz.tobytes)

    def _once(self, frequency_hz, what, work_out):
        # The array is kept beside the result, so that its id stays its own.
        key = (id(frequency_hz), what)
        if key not in self._found:
            self._found[key] = frequency_hz, work_out()
        return self._found[key][1]


class Settings:
    """The values that one element has, defaults filled in."""

    def __init__(self, kind, values):
        self.kind = kind
        self.values = MappingProxyType(dict(values))
        self._remembered = {}

    def remembered(self, key, work_out):
        """Return `work_out()`, called once for a key: what follows from these values alone."""
        if key not in self._remembered:
            self._remembered[key] = work_out()
        return self._remembered[key]

    def given(self, name):
        """Tell whether the layout gives the parameter."""
        return name in self.values

    def with_values(self, **changes):
        """Return the settings with some values replaced."""
        return Settings(self.kind, {**self.values, **changes})

    def __getitem__(self, name):
        if name in self.values:
            return self.values[name]
        return self.kind.default(name)

    def at(self, name, at):
        """Return a parameter's value in its base unit at the conditions `at`.

        A number or an array that broadcasts to (draws, points); None where neither the layout nor
        the declaration gives one.  Raises ParameterError outside a table's points.
        """
        value = self[name]
        if value is None:
            return None
        try:
            number = value.at(at.frequency_hz)
        except OutsideTable as error:
            raise ParameterError(
                name, f"{name}: {error}", "add points, or `outside: hold` to the table"
            ) from error
        change = at.vary.get(name)
        return number if change is None else self._varied(name, number, change)

    def _varied(self, name, number, change):
        """Return a value with its change, held inside the declared bounds."""
        measure = self.kind.declared()[name].reads
        changed = change(number) if callable(change) else number + change
        if measure.least is not None:
            changed = np.maximum(changed, measure.least)
        return changed if measure.most is None else np.minimum(changed, measure.most)

    def lets_through(self, name, at):
        """Return the amplitude 10^(-dB/20) of a loss; None where the loss is infinite."""
        loss_db = self.at(name, at)
        return None if loss_db is None else np.sqrt(power_ratio(-np.asarray(loss_db)))

    def first(self, *names):
        """Return the first of the parameters that the layout gives, or None."""
        return next((name for name in names if self.given(name)), None)


LOSS = Measure("ratio", least=0.0, over_frequency=True)

COMMON = (
    Parameter("stage", Reference("stage"), "where the element is anchored"),
    Parameter(
        "temperature", Measure("temperature", least=0.0),
        "the element's own temperature in place of its stage's",
    ),
    Parameter("reversed", Flag(), "turn the element round: entered where it is left", "false"),
    Parameter("enter", PortName(), "the port by which a line comes in"),
    Parameter("leave", PortName(), "the port by which a line goes on"),
    Parameter("loads", PortList(), "free ports that carry a matched load at the element's stage"),
    Parameter(
        "return_loss", Measure("ratio", least=0.0, above=True, over_frequency=True),
        "reflection at each port, of unknown phase; matched where not given",
    ),
    Parameter("data", DataFile(), "Touchstone file in place of the scattering values"),
    Parameter(
        "extra_loss", LOSS, "loss beyond the values given, on every way through: a fault", "0 dB"
    ),
    Parameter("band", FrequencyRange(), "where the values are believed; a warning outside"),
    Parameter("warm", Overrides(), "values that differ at room temperature"),
    Parameter("connectors", PerPort(), "connector at each port, type and sex"),
    Parameter(
        "clamp", Clamped(), "metals of what is clamped and of its screws, as they loosen or tighten"
    ),
    Parameter(
        "torque", Measure("torque", least=0.0, above=True),
        "torque of its connectors, as their maker says",
    ),
    Parameter("tool", Text(), "tool and thread of what fastens it, as in 'hex key 2.5 mm, M3'"),
    Parameter("tag", Text(), "what is written on the part"),
    Parameter("serial", Text(), "serial number"),
    Parameter("cost", Cost(), "what it costs to buy again"),
    Parameter("note", Text(), "anything a person should know"),
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
    """The ports by which a line enters and leaves where nothing else is said."""
    parameters: tuple[Parameter, ...] = ()
    states: tuple[str, ...] = ("ok", "bypassed", "open", "shorted")
    example = ""
    """A line of a layout that loads."""
    passive = True
    spans_stages = False
    """True where the element runs from one stage to another."""
    outside = False
    """True for an outside connector."""
    without = frozenset()
    """Names of COMMON parameters that the kind does not have."""
    symbol = ""
    """Symbol on drawings: that of its own name where empty, a labelled box where there is none."""
    beside: tuple[str, ...] = ()
    """Parameters whose values stand beside the symbol; its first two quantities where empty."""

    @classmethod
    def declared(cls):
        """Return every parameter of the kind by name: its own, the state, the common ones."""
        return _declared(cls)

    def default(self, name):
        """Return the declared default of a parameter, converted, or None."""
        return _defaults(type(self)).get(name)

    def ports(self, settings):
        """Return the element's ports."""
        return self.port_names

    def default_route(self, settings):
        """Return the ports by which a line enters and leaves; None where it ends."""
        return self.route

    def check(self, settings):
        """Yield a ParameterError for every value that cannot hold with the others."""
        return iter(())

    def scattering(self, settings, at):
        """Return the entries of S of the matched element."""
        raise NotImplementedError

    def emission(self, settings, at, scattering):
        """Return the upper entries of C, in quanta."""
        return bosma(scattering, len(self.ports(settings)), at.emitted)

    def respond(self, settings, at):
        """Return the NPort of the matched element in working order."""
        scattering = self.scattering(settings, at)
        return NPort.plain(
            self.ports(settings), scattering, self.emission(settings, at, scattering)
        )

    def holds_reflections(self, settings):
        """Tell whether `respond` deals with `return_loss` itself."""
        return False

    def pumps(self, settings):
        """Tell whether the element mixes signal and idler: a parametric amplifier, switched on."""
        return False

    def amplifies(self, settings):
        """Tell whether the element can give power: an amplifier in working order."""
        return False

    def own_noise(self, settings, at):
        """Return quanta that the element adds to the wave arriving at it, when it is observed."""
        return None

    def dissipates(self, settings):
        """Return the power in watt that the element turns into heat besides tones: its bias."""
        return 0.0

    def heat_path(self, settings):
        """Return the HeatPath that conducts between the element's anchors, or None where unknown.

        Only asked of kinds that span stages.
        """
        return None

    def has_hot_resistor(self, settings):
        """Tell whether the layout says how the element's resistors warm beyond its stage."""
        return False

    def hot_k(self, settings, *, temperature_k, absorbed_w):
        """Return the temperature (K) of the noise that the element emits while it absorbs tones.

        `temperature_k` is that of its stage, `absorbed_w` (W) what it absorbs of all tones.
        """
        return temperature_k

    def fragility(self, settings):
        """Return how early it is undone: 0 heavy and sturdy, 2 a block with connectors, 5 a fibre.

        Common practice, no source.
        """
        return 2

    def handling(self, settings):
        """Return the Cautions for whoever undoes it and puts it back."""
        return ()

    def cautions(self, settings, at):
        """Yield sentences on what under the conditions `at` holds otherwise than meant."""
        return iter(())


KINDS: dict[str, Kind] = {}
"""Every registered kind by name."""


def kind(cls):
    """Register a kind (class decorator)."""
    KINDS[cls.name] = cls()
    return cls


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


Value = Quantity | Table | NamedFile | str | bool | int | tuple | Mapping
"""What a parameter's value can be once read."""
