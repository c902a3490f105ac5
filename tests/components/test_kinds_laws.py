"""Laws that every registered kind keeps, whatever its values are."""

import zlib

import numpy as np
import pytest
import yaml
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

import components.kinds  # noqa: F401  (registers them)
from components import response
from components.conditions import Conditions
from components.declaration import KINDS
from components.parameters import Choice, DataFile, Flag, Measure, ParameterError, PortName, Whole
from components.quantities import Quantity, Table, parse
from components.settings import Settings
from components.thermal_noise import quanta
from components.touchstone import NamedFile

ROUNDING = 1e-9
"""Of the largest entry: sums of a few products of doubles, and gains up to 40 dB squared."""

NOT_RECIPROCAL = {"isolator", "circulator", "amplifier", "paramp", "measured"}
"""Kinds that do not claim to pass both ways alike; every other one does."""

DRAWN = Measure | Choice | Flag | Whole
"""Declarations whose values are drawn."""

WITH_PORTS = sorted(name for name, kind in KINDS.items() if kind.port_names)

# What the examples do not show: (kind, values to begin with).
OTHERS = [
    ("amplifier", {"gain": "30 dB", "minimum_noise_temperature": "2 K", "noise_resistance": "9 ohm",
                   "optimum_reflection": "0.3", "optimum_reflection_angle": "70 deg"}),
    ("cavity", {"shape": "notch", "frequency": "6 GHz", "coupling_q": "500"}),
    ("cavity", {"frequency": "6 GHz", "coupling_q_in": "500", "coupling_q_out": "90"}),
    ("cavity", {"frequency": "6 GHz", "unloaded_q": "9000", "loaded_q": "100"}),
    ("device", {"reflects": "true"}),
    ("filter", {"shape": "low-pass", "order": "4", "cutoff": "6 GHz", "absorptive": "true"}),
    ("filter", {"shape": "band-stop", "order": "4", "centre": "6 GHz", "bandwidth": "0.5 GHz",
                "response": "chebyshev", "ripple": "0.5 dB"}),
    ("measured", {"data": "passive.s3p"}),
    ("measured", {"data": "amplifier.s2p"}),
    ("paramp", {"gain_over_off": "20 dB", "mixing": "four-wave", "pump": "pump",
                "loss_before": "1 dB", "loss_after": "2 dB"}),
    ("paramp", {"gain": "20 dB", "mixing": "three-wave", "pump": "pump", "flux_pumped": "true",
                "reflects": "true", "loss_before": "0.3 dB"}),
    ("switch", {"throws": "4", "position": "3", "unselected": "matched", "isolation": "40 dB",
                "insertion_loss": "0.2 dB"}),
    ("switch", {"throws": "4", "position": "3", "isolation": "40 dB"}),
]


@pytest.fixture(scope="module", autouse=True)
def files(tmp_path_factory):
    """Files for the kinds that take one: passive two- and three-ports, an amplifier with noise."""
    folder = tmp_path_factory.mktemp("files")
    rng = np.random.default_rng(7)
    for ports in (2, 3):
        lines = ["# GHz S RI R 50"]
        for ghz in np.linspace(0.5, 30, 40):
            raw = rng.normal(size=(ports, ports)) + 1j * rng.normal(size=(ports, ports))
            s = 0.9 * raw / np.linalg.norm(raw, 2)
            s = s.T if ports == 2 else s  # Touchstone writes two-ports by columns
            lines.append(f"{ghz} " + " ".join(f"{x.real} {x.imag}" for x in s.ravel()))
        (folder / f"passive.s{ports}p").write_text("\n".join(lines))
    scattering = "0.1 30 20 -50 0.001 10 0.2 70"
    (folder / "amplifier.s2p").write_text(
        f"# GHz S MA R 50\n0.5 {scattering}\n30 {scattering}\n0.5 0.4 0.3 20 0.2\n30 1 0.3 90 0.3\n"
    )
    return folder


def typed(kind, name, text, folder):
    """Return a value as a layout's reading would."""
    reads = kind.declared()[name].reads
    if isinstance(reads, Measure):
        return parse(text, reads.dimension)
    if isinstance(reads, Whole):
        return int(text)
    if isinstance(reads, Flag):
        return text == "true"
    return NamedFile(str(folder / text)) if name == "data" else text


def base_values(kind, written, folder):
    """Return the values of a written element that matter to its waves."""
    if "coax" in written:
        written = {"loss": "6 dB", "length": written["length"]}
    if written.get("data") == "filter.s2p":
        written = {"data": "passive.s2p"}
    values = {}
    for key, text in written.items():
        parameter = kind.declared().get(key)
        if parameter and isinstance(parameter.reads, DRAWN | PortName | DataFile):
            values[key] = typed(kind, key, str(text), folder)
    return values


def amounts(measure):
    """Return a strategy for numbers of a measure in its base unit."""
    low, high = {
        "ratio": (0.0, 40.0), "frequency": (1e9, 2e10), "number": (0.0, 1e6),
        "temperature": (0.0, 300.0), "resistance": (0.0, 100.0), "angle": (-180.0, 180.0),
        "length": (0.0, 2.0), "noise power density": (0.0, 1e-20),
    }.get(measure.dimension, (0.0, 1.0))
    found = st.floats(max(low, measure.least), min(high, measure.most), allow_subnormal=False)
    ends = [0.0] if measure.zero else []
    if measure.dimension == "ratio":
        ends = [max(low, measure.least), measure.most]
    return st.one_of(found, st.sampled_from(ends)) if ends else found


@st.composite
def drawn_values(draw, kind, base):
    """Draw values of a kind: the base, with some parameters changed or added, that its check takes."""
    values = dict(base)

    def put(parameter):
        reads = parameter.reads
        if isinstance(reads, Measure):
            number = draw(amounts(reads))
            values[parameter.name] = Quantity(number, reads.dimension, f"{number:g}")
        elif isinstance(reads, Choice):
            values[parameter.name] = draw(st.sampled_from(reads.options))
        elif isinstance(reads, Flag):
            values[parameter.name] = draw(st.booleans())
        elif isinstance(reads, Whole):
            values[parameter.name] = draw(st.integers(max(reads.least, 1), min(reads.most, 9)))

    own = [p for p in kind.parameters if isinstance(p.reads, DRAWN)]
    for parameter in draw(st.lists(st.sampled_from(own), max_size=4, unique=True)) if own else ():
        put(parameter)
    for _ in range(6):
        error = next(kind.check(Settings(kind, values)), None)
        if error is None:
            return values
        if error.parameter in values and error.parameter not in base:
            del values[error.parameter]
        elif error.parameter in values:
            values[error.parameter] = base[error.parameter]
            base = {key: value for key, value in base.items() if key != error.parameter}
        else:
            put(kind.declared()[error.parameter])
    return reject()


@st.composite
def surroundings(draw, kind, values):
    """Draw the common values of an element: state, extra loss, return loss, loads."""
    found = Settings(kind, values)
    common = {}
    declared = kind.declared()
    common["state"] = draw(st.sampled_from(["ok", "ok", "ok", *kind.states]))
    for name, least in (("extra_loss", 0.0), ("return_loss", 0.1)):
        if name in declared and name not in values and draw(st.booleans()):
            number = draw(st.floats(least, 40.0))
            common[name] = Quantity(number, "ratio", f"{number:g}")
    free = [port for port in kind.ports(found) if port not in kind.default_route(found)]
    if "loads" in declared and free:
        common["loads"] = tuple(draw(st.lists(st.sampled_from(free), unique=True)))
    return common


def phase(port):
    """Return a phasor of a port, the same for the same name."""
    return np.exp(2j * np.pi * np.array([[zlib.crc32(port.encode()) / 2**32]]))


FREQUENCIES = st.lists(st.floats(1e9, 2e10), min_size=1, max_size=3).map(np.array)
KELVINS = st.sampled_from([0.0, 1e-3, 0.015, 1.0, 300.0, 1e5])
"""From hf/kT without bound to hf/kT of a millionth."""


def dense(nport, points):
    """Return S, C and D = J - S J S^H of an NPort, (draws, points, n, n)."""
    s, c = nport.dense(points)
    sign = np.diag(np.array(nport.sidebands, float))
    return s, c, sign - s @ sign @ np.conj(np.swapaxes(s, -1, -2))


def keeps_bound(nport, points):
    """Check that C is Hermitian, positive, and that C +- D/2 >= 0."""
    s, c, d = dense(nport, points)
    assert np.all(np.isfinite(s))
    assert np.all(np.isfinite(c))
    for (i, j), entry in nport.emission.items():
        assert i <= j
        assert i != j or not np.any(np.imag(entry))
    size = np.maximum(1.0, np.maximum(np.abs(c), np.abs(s) ** 2).max(axis=(-1, -2)))
    for sign in (-0.5, 0.0, 0.5):
        least = np.linalg.eigvalsh(c + sign * d)[..., 0]
        assert np.all(least >= -ROUNDING * size)
    # The declared commutator is the one computed here.
    stated = np.zeros_like(d)
    for (i, j), entry in nport.lossiness.items():
        stated[..., i, j] = entry
        stated[..., j, i] = np.conj(entry)
    assert np.all(np.abs(stated - d) <= ROUNDING * size[..., None, None])


def in_equilibrium(kind, values, at):
    """Check C = (I - S S^H) N and the largest singular value of a passive element."""
    nport = response.respond(kind, values, at)
    points = at.frequency_hz.size
    s, c, d = dense(nport, points)
    # Bounded by the sum of rounding of the products in S.
    assert np.linalg.norm(s, 2, axis=(-1, -2)).max(initial=0.0) <= 1 + ROUNDING
    emitted = quanta(frequency_hz=at.frequency_hz, temperature_k=at.temperature_k)[:, None, None]
    assert np.all(np.abs(c - d * emitted) <= ROUNDING * np.maximum(emitted, 1.0))


CASES = [(name, None) for name in WITH_PORTS] + OTHERS


@pytest.mark.parametrize(("name", "written"), CASES, ids=[
    f"{name}-{index}" for index, (name, _) in enumerate(CASES)
])
@settings(suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_laws(name, written, files, data):
    kind = KINDS[name]
    base = base_values(kind, written or yaml.safe_load(kind.example), files)
    values = data.draw(drawn_values(kind, base))
    values |= data.draw(surroundings(kind, values))
    element = Settings(kind, values)
    f, kelvin = data.draw(FREQUENCIES), data.draw(KELVINS)
    at = Conditions(frequency_hz=f, temperature_k=kelvin, phase=phase)
    if kind.spans_stages:
        ends = data.draw(KELVINS)
        at = Conditions(f, kelvin, ((0.0, kelvin), (0.4, 2.0), (1.0, ends)), phase=phase)
    at_idler = at.at_frequency(21.5e9 - f)
    try:
        if kind.pumps(element):
            keeps_bound(response.respond_with_idler(kind, element, at, at_idler), f.size)
            keeps_bound(response.respond_to_pump(kind, element, at), f.size)
            element = element.with_values(state="off")
        nport = response.respond(kind, element, at)
    except ParameterError:  # nothing could have these values; what is said is read elsewhere
        reject()
    keeps_bound(nport, f.size)
    if not kind.amplifies(element):
        in_equilibrium(kind, element, response.uniform(at, kelvin))
    reciprocal = name not in NOT_RECIPROCAL or element["state"] in ("bypassed", "open", "shorted")
    if reciprocal:
        s, _, _ = dense(nport, f.size)
        assert np.all(np.abs(s - np.swapaxes(s, -1, -2)) <= ROUNDING)


# Kinds with a loss that can be nothing, and what it takes for that besides.
LOSSLESS = [
    ("attenuator", {"loss": "0 dB"}), ("cable", {"loss": "0 dB"}), ("device", {}),
    ("coupler", {"coupling": "10 dB"}), ("hybrid", {}), ("circulator", {"isolation": "20 dB"}),
    ("diplexer", {"crossover": "6 GHz"}), ("dc-block", {}), ("bias-tee", {"isolation": "30 dB"}),
    ("switch", {"position": "1", "isolation": "30 dB"}),
    ("cavity", {"frequency": "6 GHz", "coupling_q": "10"}),
    ("cavity", {"frequency": "6 GHz", "coupling_q": "10", "shape": "notch"}),
    ("filter", {"shape": "low-pass", "order": "6", "cutoff": "6 GHz", "response": "chebyshev",
                "ripple": "1 dB"}),
    ("infrared-filter", {"loss": "0 dB", "reference": "1 GHz"}),
]


@pytest.mark.parametrize(("name", "written"), LOSSLESS)
def test_without_loss_nothing_is_emitted(name, written, files):
    """A lossless element is unitary and silent, however hot it is."""
    kind = KINDS[name]
    values = {key: typed(kind, key, text, files) for key, text in written.items()}
    f = np.linspace(1e9, 2e10, 7)
    nport = response.respond(
        kind, Settings(kind, values), Conditions(frequency_hz=f, temperature_k=300.0)
    )
    _, c, d = dense(nport, f.size)
    # Rounding of S S^H, times the quanta of 300 K at 1 GHz.
    assert np.abs(d).max() < 1e-13
    assert np.abs(c).max() < 1e-13 * 6300


@pytest.mark.parametrize("name", ["attenuator", "cable", "device", "infrared-filter"])
def test_an_endless_loss_is_a_load(name, files):
    """Nothing passes 3000 dB, and each end sees a load at the element's temperature."""
    kind = KINDS[name]
    values = {"loss": parse("3000 dB", "ratio"), "reference": parse("1 GHz", "frequency")}
    values = {key: value for key, value in values.items() if key in kind.declared()}
    f = np.array([1e9, 5e9])
    at = Conditions(frequency_hz=f, temperature_k=0.3)
    _, c, _ = dense(response.respond(kind, Settings(kind, values), at), 2)
    load = quanta(frequency_hz=f, temperature_k=0.3)
    assert c[0] == pytest.approx(load[:, None, None] * np.eye(2), rel=1e-12, abs=1e-12)


def test_a_table_outside_its_points_is_refused():
    kind = KINDS["attenuator"]
    table = Settings(kind, {"loss": Table((4e9, 8e9), (1.0, 2.0), "ratio")})
    at = Conditions(frequency_hz=np.array([3e9]), temperature_k=1.0)
    with pytest.raises(ParameterError, match=r"reaches from 4 GHz to 8 GHz, and 3 GHz to 3 GHz"):
        response.respond(kind, table, at)
