"""How far tolerances and unknown phases spread the answer, and which part matters most."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError
from chain.layout.asked import asked_frequencies
from chain.layout.equal_networks import signal_keys
from chain.layout.limits import check_work
from chain.layout.signals import chosen_signal
from chain.network.assembly import Choices, phase_draws
from chain.network.draws import Draws, check_draws
from chain.noise.budget import budget
from chain.noise.shares import received
from chain.power.self_heating import heating_of, noise_network
from components.quantities import Quantity, decibels
from components.thermal_noise import kelvin_per_quantum

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from chain.layout.layout import Layout
    from components.arrays import FloatArray

POINTS_AT_ONCE = 32_768
"""Draws times points that are solved at once."""

OF_PHASES, OF_CURVATURE = "phases of reflections, and what is not linear", "what is not linear"
"""What is left of the variance when every toleranced value has its part."""


ROUNDING = 1e-12
"""Relative deviation that is rounding alone."""


@dataclass(frozen=True)
class Distribution:
    """How a quantity is distributed over the draws; each array runs over frequency."""

    mean: FloatArray
    sd: FloatArray
    """Standard deviation."""
    p05: FloatArray
    """Five of a hundred draws lie below."""
    p50: FloatArray
    p95: FloatArray

    @classmethod
    def of(cls, values: FloatArray) -> Distribution:
        """Return the distribution over the first axis of values (draws, points)."""
        low, middle, high = np.percentile(values, (5, 50, 95), axis=0)
        mean, sd = values.mean(axis=0), values.std(axis=0, ddof=1)
        # What does not vary has rounding for a deviation, not nothing.
        sd = np.where(sd > ROUNDING * np.abs(mean), sd, 0.0)
        return cls(mean, sd, low, middle, high)

    def as_dict(self) -> dict[str, FloatArray]:
        """Return the arrays by name."""
        return dict(vars(self))


@dataclass(frozen=True)
class Share:
    """One value's part of the variance of a result."""

    parameter: str
    value: str
    """As the layout writes it; empty for what is no value."""
    share: float
    """Of one."""

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {"parameter": self.parameter, "share": self.share, "value": self.value}


@dataclass(frozen=True)
class Spread:
    """The spread of one signal's budget."""

    signal: str
    frequency_hz: FloatArray
    draws: int
    seed: int
    quantities: Mapping[str, Distribution]
    """By the names that a budget has: gain_db, system_noise_quanta, ..."""
    of: str
    """The quantity, in the mean over the band, whose variance `sensitivity` parts: system noise, or
    what arrives at the end where that is inside or there is no start."""
    sensitivity: tuple[Share, ...]
    """Most first."""
    gain_sensitivity: tuple[Share, ...]
    """The same for the gain in dB; empty for a signal without a start."""
    values: int
    """Number of toleranced values."""
    warnings: tuple[str, ...] = ()
    layout: Layout = field(kw_only=True, repr=False)

    def as_dict(self) -> dict[str, Any]:
        """Return the spread under the names that programs lean on."""
        return {
            "spread": {name: values.as_dict() for name, values in self.quantities.items()},
            "sensitivity": [share.as_dict() for share in self.sensitivity],
            "sensitivity_of": self.of,
            "gain_sensitivity": [share.as_dict() for share in self.gain_sensitivity],
            "draws": self.draws, "seed": self.seed,
        }

    def __str__(self):
        from chain.noise.spread_text import spread_text

        return spread_text(self)


def spreads(
    layout: Layout, signals: Collection[str], *, draws: int, seed: int = 0,
    frequency_hz: ArrayLike | None = None, progress: Callable[[int, int], object] | None=None,
) -> dict[str, Spread]:
    """Return {name: Spread} of some signals; equal copies of a line share that of the first.

    `progress` is called with the number of signals done and in all.  Raises LayoutError.
    """
    found, solved = {}, {}
    chosen = [chosen_signal(layout, name) for name in signals]
    alike = signal_keys(layout, chosen, heated=heating_of(layout))
    for done, signal in enumerate(chosen):
        if progress is not None:
            progress(done, len(chosen))
        ids, key = layout.connected(signal.to_port[0]), alike[signal.name]
        if key not in solved:
            solved[key] = ids, spread(
                layout, signal.name, draws=draws, seed=seed, frequency_hz=frequency_hz
            )
        found[signal.name] = _renamed(*solved[key], ids, signal.name)
    return found


def _renamed(ids, first, to_ids, name):
    """Return a Spread for the copy whose ids are `to_ids`."""
    called = dict(zip(ids, to_ids, strict=True))

    def renamed(shares):
        result = []
        for share in shares:
            key, dot, parameter = share.parameter.partition(".")
            named = f"{called[key]}{dot}{parameter}" if key in called else share.parameter
            result.append(Share(named, share.value, share.share))
        return tuple(result)

    return replace(
        first, signal=name, sensitivity=renamed(first.sensitivity),
        gain_sensitivity=renamed(first.gain_sensitivity),
    )


def spread(
    layout: Layout, signal: str | None = None, *, draws: int, seed: int = 0,
    frequency_hz: ArrayLike | None = None,
) -> Spread:
    """Return the Spread of a signal over `draws` draws of every toleranced value and phase.

    `frequency_hz` (array, Hz) replaces the band.  Raises LayoutError.
    """
    check_draws(draws, seed)
    chosen = chosen_signal(layout, signal)
    f = asked_frequencies(layout, frequency_hz, chosen)
    ids = layout.connected(chosen.to_port[0])
    check_work(layout, elements=len(ids), points=f.size, draws=draws, kept=False)
    drawn = Draws(layout, ids, count=draws, seed=seed)
    temperatures = _temperatures(layout, ids, drawn)
    effects = [_effect(layout, chosen, one, f) for one in temperatures]
    parts, means = [], {}
    pieces = min(f.size, -(-f.size * draws // POINTS_AT_ONCE))
    for part in np.array_split(np.arange(f.size), pieces):
        values = _values(layout, chosen, f[part], drawn)
        for effect in effects:
            values = effect.onto(values, part)
        complete = _complete(values, f[part])
        parts.append({name: Distribution.of(array) for name, array in complete.items()})
        for name, array in complete.items():
            means[name] = means.get(name, 0.0) + array.sum(axis=1) / f.size
    return _joined(layout, chosen, f, drawn, temperatures, parts, means)


def _joined(layout, signal, f, drawn, temperatures, parts, means):
    quantities = {
        name: Distribution(**{
            key: np.concatenate([getattr(part[name], key) for part in parts])
            for key in ("mean", "sd", "p05", "p50", "p95")
        })
        for name in parts[0]
    }
    received = layout.elements[signal.to_port[0]].kind.outside and "system_noise_quanta" in means
    of = "system_noise_quanta" if received else "noise_at_to_quanta"
    known = [*drawn.values, *temperatures]
    phases = phase_draws(layout, layout.connected(signal.to_port[0])) > 1
    rest = OF_PHASES if phases else OF_CURVATURE
    return Spread(
        signal.name, f, drawn.draws, drawn.seed, quantities, of,
        shares_of_variance(known, means[of], rest),
        shares_of_variance(known, means["gain_db"], rest) if "gain_db" in means else (),
        len(known), tuple(_warnings(drawn, known, phases)), layout=layout,
    )


def _warnings(drawn, known, phases):
    if not known and not phases:
        yield (
            "nothing that this signal meets has a tolerance, so nothing spreads: write "
            "20 dB +/- 0.5 dB"
        )
    for one in drawn.values:
        if one.held:
            yield (
                f"{one.name}: {one.held} of {drawn.draws} draws lie beyond what the value can be "
                "and are held at its bound"
            )


# -- the values of all draws ----------------------------------------------------------------


def _values(layout, signal, f, drawn):
    """Return {gain, noise, incoming}: arrays (draws, points), gain None without a start."""
    try:
        network = noise_network(layout, signal.to_port[0], f, Choices(draws=drawn))
    except LayoutError as error:
        raise _of_draws(layout, signal, f, error) from error
    found, shape = received(network, signal), (drawn.draws, len(f))
    noise = np.broadcast_to(found.noise, shape)
    if found.gain is None:
        return {"gain": None, "noise": noise, "incoming": np.zeros(shape)}
    incoming = sum(part.incoming for parts in found.parts.values() for part in parts)
    return {
        "gain": np.broadcast_to(found.gain, shape), "noise": noise,
        "incoming": np.broadcast_to(incoming, shape),
    }


def _of_draws(layout, signal, f, error):
    """Return the error of a draw that no part can have, or the layout's own error."""
    try:
        noise_network(layout, signal.to_port[0], f[:1])
    except LayoutError as own:
        return own
    problem = error.problems[0]
    return LayoutError.at(
        problem.place, f"one of the draws cannot be: {problem.what}",
        f"narrow the tolerances, or give them an end with `max` ({problem.instead})",
    )


def _complete(values, f):
    """Return every quantity of a budget from gain, noise and incoming, (draws, points)."""
    if values["gain"] is None:
        return {"noise_at_to_quanta": values["noise"]}
    system = values["noise"] / values["gain"]
    added = system - values["incoming"] / values["gain"]
    return {
        "gain_db": decibels(values["gain"]),
        "noise_at_to_quanta": values["noise"],
        "system_noise_quanta": system,
        "system_noise_k": system * kelvin_per_quantum(frequency_hz=f),
        "added_quanta": added,
    }


# -- temperatures ---------------------------------------------------------------------------


@dataclass(frozen=True)
class _Temperature:
    """A toleranced temperature: a stage's or an element's own."""

    name: str
    text: str
    kelvin: float
    change: FloatArray
    """Kelvin, shape (draws, 1)."""
    at: object
    """From kelvin to the layout at that temperature."""

    @property
    def tolerance(self):
        """None: `change` tells all."""
        return None


def _temperatures(layout, ids, drawn):
    """Return the toleranced temperatures that elements of a network have or touch."""
    elements = [layout.elements[key] for key in ids]
    touched = {
        stage for e in elements
        for stage in (e.stage, e.from_stage, e.to_stage, *(s for s, _ in e.via))
    }
    found = []
    for name, stage in layout.stages.items():
        if name in touched and stage.tolerance is not None and stage.tolerance.size > 0:
            key = f"stages.{name}.temperature"
            found.append(_Temperature(
                key, f"{stage.temperature_k:g} K", stage.temperature_k,
                drawn.change(key, stage.tolerance),
                lambda kelvin, name=name: layout.with_temperatures({name: kelvin}),
            ))
    for e in elements:
        value = e.settings["temperature"] if "temperature" in e.kind.declared() else None
        if value is not None and value.tolerance is not None and value.tolerance.size > 0:
            key = f"{e.id}.temperature"
            found.append(_Temperature(
                key, value.text, value.value, drawn.change(key, value.tolerance),
                lambda kelvin, e=e: layout.with_settings(
                    {e.id: {"temperature": Quantity(kelvin, "temperature", f"{kelvin:g} K")}}
                ),
            ))
    return found


@dataclass(frozen=True)
class _Effect:
    """What a temperature's draws change, arrays (draws, points) over the whole band."""

    gain: FloatArray | None
    """Factor on the gain."""
    noise: FloatArray
    """Quanta to add, referred to the start (to the end for a signal without one)."""
    incoming: FloatArray | None
    """The same of what comes by the start."""

    def onto(self, values, part):
        """Return values of some of the points with the effect on them."""
        if self.gain is None or self.incoming is None:
            return {**values, "noise": values["noise"] + self.noise[:, part]}
        gain = values["gain"] * self.gain[:, part]
        return {
            "gain": gain,
            "noise": values["noise"] * self.gain[:, part] + gain * self.noise[:, part],
            "incoming": values["incoming"] * self.gain[:, part] + gain * self.incoming[:, part],
        }


NODES = 5
"""Temperatures at which a budget is worked out to follow a toleranced one."""


def _effect(layout, signal, temperature, f):
    """Return the _Effect of a temperature: budgets at five temperatures and a polynomial between.

    Worked out with everything else at its value; how two tolerances act on each other through a
    temperature is left out.
    """
    reach = np.abs(temperature.change).max()
    low, high = max(temperature.kelvin - reach, 0.05 * temperature.kelvin), \
        temperature.kelvin + reach
    nodes = (low + high) / 2 + (high - low) / 2 * np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
    budgets = [budget(temperature.at(k), signal.name, frequency_hz=f) for k in nodes]
    here = np.clip(temperature.kelvin + temperature.change[:, 0], low, high)
    weights = _lagrange(nodes, here) - _lagrange(nodes, np.array([temperature.kelvin]))
    if budgets[0].gain_db is None:
        return _Effect(None, weights @ np.array([b.noise_at_to_quanta for b in budgets]), None)
    change_db = weights @ np.array([b.gain_db for b in budgets])
    return _Effect(
        10 ** (change_db / 10),
        weights @ np.array([b.system_noise_quanta for b in budgets]),
        weights @ np.array([b.incoming_quanta for b in budgets]),
    )


def _lagrange(nodes, x):
    """Return the weights of values at `nodes` in the polynomial through them at `x`, (x, nodes)."""
    weights = np.ones((len(x), len(nodes)))
    for i, own in enumerate(nodes):
        for j, other in enumerate(nodes):
            if i != j:
                weights[:, i] *= (x - other) / (own - other)
    return weights


# -- which part matters most ----------------------------------------------------------------


def shares_of_variance(known: Any, result: FloatArray, rest: str) -> Any:
    """Return a Share for every drawn value: its part of the variance of `result` (draws,).

    Coefficient times correlation of a linear regression on what was drawn, all scaled to their
    widths: the parts add up to what the regression explains (J. W. Pratt, 1987, from memory), and
    what that misses of one is the `rest`.  With few draws for many values, squared correlations.
    """
    centred = result - result.mean()
    if len(result) < 2 or np.allclose(centred, 0.0, atol=ROUNDING * np.abs(result).max()):
        return ()
    columns = np.array([one.change[:, 0] for one in known]).reshape(len(known), len(result)).T
    widths = columns.std(axis=0)
    # A value that tolerances of no size leave alone moves nothing.
    columns = (columns - columns.mean(axis=0)) / np.where(widths > 0.0, widths, 1.0)
    target = centred / centred.std()
    correlations = slopes = columns.T @ target / len(target)
    if 2 * len(known) < len(result):
        slopes, *_ = np.linalg.lstsq(columns, target, rcond=None)
    shares = [
        Share(one.name, one.text, max(float(part), 0.0))
        for one, part in zip(known, slopes * correlations, strict=True)
    ]
    left = 1.0 - sum(share.share for share in shares)
    shares.append(Share(rest, "", float(max(left, 0.0))))
    return tuple(sorted(shares, key=lambda share: -share.share))
