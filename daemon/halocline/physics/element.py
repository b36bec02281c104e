"""What a membrane element is: permeabilities at 25 °C, size, feed channel, and the limits it should keep."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

from halocline.physics.errors import Unsolvable, require
from halocline.physics.march import Site, march
from halocline.physics.sodium_chloride import SodiumChloride
from halocline.physics.transport import Channel, temperature_factor

_LIMITS: dict[str, tuple[str, str, float, float]] = {
    "water_permeability_lmh_bar": ("water permeability", "L/m²/h/bar", 1e-3, 50.0),
    "salt_permeability_lmh": ("salt permeability", "L/m²/h", 0.0, 50.0),
    "area_m2": ("membrane area", "m²", 1e-3, 100.0),
    "water_activation_kj_mol": ("activation energy of water", "kJ/mol", 0.0, 60.0),
    "salt_activation_kj_mol": ("activation energy of salt", "kJ/mol", 0.0, 60.0),
    "length_m": ("membrane length", "m", 0.05, 5.0),
    "channel_height_m": ("feed spacer height", "m", 1e-4, 5e-3),
    "spacer_porosity": ("feed spacer porosity", "", 0.4, 0.99),
    "max_pressure_bar": ("highest pressure of the element", "bar", 1.0, 150.0),
    "max_feed_flow_l_h": ("highest feed flow of the element", "L/h", 1.0, 50_000.0),
    "max_recovery": ("highest recovery of the element", "", 0.01, 0.95),
    "max_flux_lmh": ("highest flux of the element", "L/m²/h", 1.0, 200.0),
}


@dataclass(frozen=True, slots=True)
class Membrane:
    """One element: permeabilities at 25 °C, area, how temperature changes them, feed channel, and its limits.

    The defaults of channel and energies are typical of a 2.5 × 40 inch spiral element (from memory). The
    `max_` values only make `project` speak up; they change no result. Raises `OutOfRange`.
    """

    water_permeability_lmh_bar: float
    salt_permeability_lmh: float
    area_m2: float
    water_activation_kj_mol: float = 22.0
    salt_activation_kj_mol: float = 28.0
    length_m: float = 0.90
    channel_height_m: float = 0.00071
    spacer_porosity: float = 0.85
    max_pressure_bar: float = 69.0
    max_feed_flow_l_h: float = 1400.0
    max_recovery: float = 0.25
    max_flux_lmh: float = 38.0

    def __post_init__(self) -> None:
        for name, (quantity, unit, low, high) in _LIMITS.items():
            require(quantity, getattr(self, name), unit, low, high)

    @staticmethod
    @lru_cache(maxsize=16)
    def from_nameplate(
        flow_m3_d: float,
        rejection: float,
        area_m2: float,
        test_pressure_bar: float = 55.0,
        test_nacl_g_l: float = 32.0,
        test_temperature_c: float = 25.0,
        test_recovery: float = 0.08,
    ) -> Membrane:
        """The element whose standard test gives the flow (m³/d) and salt rejection (0…1) on its plate.

        Plates are nominal: ± 15 % in flow between elements is normal; fit your own once it runs. Valid for
        tests with 0.5…60 g/L NaCl at 15…35 °C. Raises `OutOfRange`, and `Unsolvable` when no membrane can
        do what the plate says. Source: the model of `halocline.physics.membrane`, solved for A and B.
        """
        product = require("nameplate flow", flow_m3_d, "m³/d", 1e-3, 500.0) * 1000.0 / 24.0
        passing = 1.0 - require("nameplate salt rejection", rejection, "", 0.5, 0.99999)
        feed_g_l = require("test concentration", test_nacl_g_l, "g/L", 0.5, 60.0)
        feed = product / require("test recovery", test_recovery, "", 0.005, 0.5)
        inlet = require("test pressure", test_pressure_bar, "bar", 1.0, 150.0)
        water = SodiumChloride(test_temperature_c)
        flux = product / require("membrane area", area_m2, "m²", 1e-3, 100.0)
        plate = Membrane(flux / inlet, flux * passing, area_m2, max_flux_lmh=min(max(flux, 1.0), 200.0))
        channel = Channel(plate, water, water.salinity_g_kg(feed_g_l), test_temperature_c)

        def test(water_lmh_bar: float, salt_lmh: float) -> tuple[float, float]:
            passage = march(Site(water_lmh_bar, salt_lmh, area_m2, water, channel), feed_g_l, feed, inlet)
            return passage.product_flow_l_h, passage.product_g_l

        a, b = fit_permeabilities(test, product, passing * feed_g_l, flux / inlet, flux * passing)
        at_25c = Membrane(1.0, 1.0, area_m2)
        a25, b25 = permeabilities(at_25c, test_temperature_c)
        return replace(plate, water_permeability_lmh_bar=a / a25, salt_permeability_lmh=b / b25)

    def aged(self, water_factor: float = 1.0, salt_factor: float = 1.0) -> Membrane:
        """The same element with its permeabilities changed: fouled (A below 1), leaking (B above 1)."""
        return replace(
            self,
            water_permeability_lmh_bar=self.water_permeability_lmh_bar * water_factor,
            salt_permeability_lmh=self.salt_permeability_lmh * salt_factor,
        )


@lru_cache(maxsize=64)
def permeabilities(membrane: Membrane, temperature_c: float) -> tuple[float, float]:
    """A (L/m²/h/bar) and B (L/m²/h) at this temperature."""
    return (
        membrane.water_permeability_lmh_bar * temperature_factor(membrane.water_activation_kj_mol, temperature_c),
        membrane.salt_permeability_lmh * temperature_factor(membrane.salt_activation_kj_mol, temperature_c),
    )


def fit_permeabilities(
    product_of: Callable[[float, float], tuple[float, float]],
    product_flow_l_h: float,
    product_g_l: float,
    water_lmh_bar: float,
    salt_lmh: float,
) -> tuple[float, float]:
    """The A and B for which `product_of(A, B)` gives this product flow (L/h) and salt (g/L).

    The last two are where to start. Raises `Unsolvable` when no such membrane exists.
    """
    for _ in range(200):
        flow, salt = product_of(water_lmh_bar, salt_lmh)
        flow_ratio = product_flow_l_h / max(flow, 1e-9)
        salt_ratio = product_g_l / max(salt, 1e-9)
        if abs(flow_ratio - 1.0) < 1e-10 and abs(salt_ratio - 1.0) < 1e-10:
            return water_lmh_bar, salt_lmh
        # Flow follows A, and salt follows B, a little less than in proportion: this converges by itself.
        water_lmh_bar *= min(max(flow_ratio, 0.2), 5.0)
        salt_lmh *= min(max(salt_ratio, 0.2), 5.0)
        if not (1e-3 <= water_lmh_bar <= 50.0 and 1e-9 <= salt_lmh <= 50.0):
            break
    raise Unsolvable(
        f"no membrane gives {product_flow_l_h:.3g} L/h with {1000.0 * product_g_l:.3g} mg/L here: the "
        f"pressure is too low for that salinity, or flow, recovery, rejection and area do not belong "
        f"together; check them"
    )
