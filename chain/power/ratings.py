"""Tones and noise against what parts, generators and receivers are rated for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chain.writing.numbers import si
from components.quantities import decibels

if TYPE_CHECKING:
    from chain.writing.text import Result

MAX_POWER, MAX_OUTPUT, FULL_SCALE = "max_power", "max_output", "full_scale"

CREST = 8.0
"""Noise counts at four times its effective voltage, a sine at its peak: 16/2 in power, 9.0 dB
(common practice, no source: Gaussian noise is beyond that 6e-5 of the time)."""


@dataclass(frozen=True)
class Rating:
    """One part, generator or receiver against one of its ratings."""

    id: str
    rating: str
    """`max_power` (on average, of all tones at one of its ports), `max_output` (of a generator,
    while its tones are on), or `full_scale` (of a receiver: tones in phase, and its noise over the
    layout's band at CREST)."""
    port: str
    """The port, `id.port`, where most arrives."""
    level_w: float
    limit_w: float

    @property
    def margin_db(self) -> float | None:
        """How far the level lies below the rating, dB; None where nothing arrives."""
        return float(decibels(self.limit_w / self.level_w)) if self.level_w > 0 else None

    @property
    def over(self) -> bool:
        """True where the level is above the rating."""
        return self.level_w > self.limit_w * (1 + 1e-9)

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {
            "id": self.id, "rating": self.rating, "port": self.port, "level_w": self.level_w,
            "limit_w": self.limit_w, "margin_db": self.margin_db, "over": self.over,
        }


@dataclass(frozen=True)
class Demand:
    """A tone that asks more of its generator than any is believed to give."""

    tone: str
    port: str
    """Id of the connector that it is sent into."""
    sent_w: float
    """What it takes there while it is on, watt."""
    blame: str | None
    """The element that loses most on the path to where the tone is wanted; None for no path."""
    loss_db: float
    """What that element loses of it, dB."""

    @property
    def says(self) -> str:
        """What is wrong, in words."""
        text = f"{self.tone} takes {watt_text(self.sent_w)} at {self.port}"
        if self.blame is None:
            return text
        return f"{text}: {self.blame} alone loses {self.loss_db:.1f} dB of it"


def watt_text(watt: float) -> str:
    """Return a power as people say it, however absurd."""
    if watt < 1e12:
        return si(watt, "W", 3)
    return f"{watt / 1e9:.1e} GW".replace("e+", "e")


def rating_warnings(power: Result) -> list[str]:
    """Return a sentence for every rating that is exceeded, and every absurd generator."""
    said = [
        f"{one.id} is over its {one.rating} by {-one.margin_db:.1f} dB: "
        f"{watt_text(one.level_w)} at {one.port}, rated {watt_text(one.limit_w)}"
        for one in power.ratings if one.over
    ]
    return said + [f"{one.says}; no such generator is at hand" for one in power.demands]
