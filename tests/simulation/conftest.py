from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest

from halocline.config import load_demo
from halocline.plant.settings import Settings
from halocline.simulation import PlantParameters, Sea, Truth

BEAT_S = 0.05


class Rig:
    """A simulated boat, somebody who beats the heartbeat, and a virtual clock."""

    def __init__(self, settings: Settings, parameters: PlantParameters, seed: int = 1, **options: Any) -> None:
        self.settings = settings
        self.sea = Sea(settings, parameters, seed, 0.0, **options)
        self.now = 0.0
        self.beating = True
        self._level = False

    def run(self, seconds: float) -> "Rig":
        """Let time pass, beating every 50 ms."""
        end = self.now + seconds
        while self.now < end - 1e-9:
            self.now = min(end, self.now + BEAT_S)
            if self.beating:
                self._level = not self._level
                self.sea.set_output("heartbeat", self._level, self.now)
            self.sea.advance(self.now)
        return self

    def switch(self, **outputs: bool) -> "Rig":
        for line, on in outputs.items():
            self.sea.set_output(line, on, self.now)
        return self

    def ask(self, ask: str | None) -> "Rig":
        self.sea.ask(ask, self.now)
        return self

    def inject(self, fault: str, **arguments: Any) -> "Rig":
        self.sea.inject(fault, self.now, **arguments)
        return self

    def clear(self, fault: str, **arguments: Any) -> "Rig":
        self.sea.inject(fault, self.now, clear=True, **arguments)
        return self

    @property
    def truth(self) -> Truth:
        return self.sea.truth(self.now)

    def volts(self, channel: str) -> float:
        """The mean of many conversions, so that noise does not matter."""
        sensor = self.settings.inputs[channel]
        return sum(self.sea.volts(sensor.address, sensor.mux, self.now) for _ in range(400)) / 400

    def value(self, channel: str) -> float:
        """A loop's or a plain voltage's value as its data sheet would have it."""
        sensor = self.settings.inputs[channel]
        if sensor.kind == "current_loop":
            share = (self.volts(channel) / sensor.shunt_ohm * 1000.0 - 4.0) / 16.0
        else:
            volts = self.volts(channel) * sensor.divider
            share = (volts - sensor.volts_low) / (sensor.volts_high - sensor.volts_low)
        return sensor.low + share * (sensor.high - sensor.low)

    def flow(self, channel: str, seconds: float = 5.0) -> float:
        """What a meter counts over a while, L/h."""
        before, _ = self.sea.edges(channel, self.now)
        self.run(seconds)
        after, _ = self.sea.edges(channel, self.now)
        return (after - before) / self.settings.inputs[channel].pulses_per_l / seconds * 3600.0

    def prime(self) -> "Rig":
        return self.run(2.0).switch(feed_pump=True).run(5.0)

    def pump(self) -> "Rig":
        return self.prime().switch(high_pressure_pump=True).run(3.0)

    def produce(self) -> "Rig":
        """Up to working pressure, and long enough there for the product to be good."""
        self.pump().ask("raise_pressure").run(115.0)
        return self.ask(None).run(120.0)


@pytest.fixture(scope="session")
def demo() -> Settings:
    return load_demo()[0]


@pytest.fixture
def rig(demo: Settings) -> Callable[..., Rig]:
    """Build a rig: `rig()` is the demo boat, `rig(temperature_c=30)` differs, `settings=` replaces it."""

    def build(
        settings: Settings | None = None, seed: int = 1, options: dict[str, Any] | None = None, **changes: Any
    ) -> Rig:
        chosen = settings or demo
        parameters = replace(PlantParameters.for_settings(chosen), **changes)
        return Rig(chosen, parameters, seed, **(options or {}))

    return build


@pytest.fixture(scope="session")
def rig_in_production(demo: Settings) -> Rig:
    return Rig(demo, PlantParameters.for_settings(demo)).produce()


@pytest.fixture
def producing(rig_in_production: Rig, demo: Settings) -> Rig:
    """A rig of its own that has been making good water for a while."""
    return deepcopy(rig_in_production, {id(demo): demo})
