"""Each value of data/physics_values.json, with its source there, against the code."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from halocline.physics import conductivity, energy, guidance, seawater, sodium_chloride
from halocline.physics.lumped import log_mean_factor
from halocline.physics.march import Passage, Site, march
from halocline.physics.membrane import (
    Membrane,
    Projection,
    activation_energy_kj_mol,
    project,
    temperature_factor,
)
from halocline.physics.normalisation import (
    Normalised,
    OperatingPoint,
    net_driving_pressure_bar,
    normalise,
    normalised_pressure_drop_bar,
)
from halocline.physics.transport import Channel

Inputs = dict[str, Any]
ENTRIES = json.loads((Path(__file__).parent / "data" / "physics_values.json").read_text(encoding="utf-8"))

YARDSTICKS = {"C2-pi-teosweb", "C2-phi-teosweb"}
"""Examples under pressure that the package has no formula for; they check the reference library instead."""


def nameplate(i: Inputs) -> Membrane:
    return Membrane.from_nameplate(
        i["permeate_m3_per_d"],
        i["rejection"],
        i["area_m2"],
        test_pressure_bar=i["P_bar"],
        test_nacl_g_l=i["NaCl_g_per_L"],
        test_temperature_c=i["t_C"],
        test_recovery=i["recovery"],
    )


def nameplate_test(i: Inputs) -> Passage:
    plate, water = nameplate(i), sodium_chloride.SodiumChloride(i["t_C"])
    channel = Channel(plate, water, water.salinity_g_kg(i["NaCl_g_per_L"]), i["t_C"])
    site = Site(plate.water_permeability_lmh_bar, plate.salt_permeability_lmh, plate.area_m2, water, channel)
    feed = i["permeate_m3_per_d"] * 1000.0 / 24.0 / i["recovery"]
    return march(site, i["NaCl_g_per_L"], feed, i["P_bar"])


def element(i: Inputs) -> Projection:
    membrane = Membrane(
        i["A25_LMHbar"] * i.get("A_factor", 1.0),
        i["B25_LMH"],
        i["area_m2"],
        water_activation_kj_mol=i["EaA_kJmol"],
        salt_activation_kj_mol=i["EaB_kJmol"],
        length_m=i["channel_length_m"],
        channel_height_m=i["channel_height_m"],
        spacer_porosity=i["spacer_porosity"],
    )
    return project(
        membrane,
        i["SA_gkg"],
        i["t_C"],
        i["P_bar"],
        i["feed_L_per_h"],
        product_pressure_bar=i["P_permeate_bar"],
    )


def point(state: dict[str, float]) -> OperatingPoint:
    return OperatingPoint(
        membrane_inlet_bar=state["P"],
        pressure_drop_bar=state["dP"],
        product_pressure_bar=state["Pp"],
        feed_salinity_g_kg=state["S"],
        temperature_c=state["t"],
        feed_flow_l_h=state["Qf"],
        product_flow_l_h=state["Qp"],
        product_tds_mg_l=state["Cp"],
    )


def normalised(i: Inputs) -> Normalised:
    return normalise(
        point(i["reference"]),
        point(i["actual"]),
        "d4516" if i["osmotic"].startswith("0.2654") else "seawater",
        water_activation_kj_mol=i["EaA_kJmol"],
        salt_activation_kj_mol=i["EaB_kJmol"],
    )


def kcl(i: Inputs) -> float:
    label = f"{i['c_mol_per_L']:g} M" if "c_mol_per_L" in i else f"{i['molality_mol_per_kg']:g} m"
    return conductivity.KCL_STANDARDS_US_CM[label][i["t_C"]]


def of_nacl(milligrams_of_ion: float, ion_g_mol: float) -> float:
    salt = milligrams_of_ion * conductivity.NACL_G_MOL / ion_g_mol
    return conductivity.conductivity_25c_us_cm(salt)


def taste_bound(word: str) -> float:
    return next(bound for bound, name in guidance.WHO_TASTE_MG_L if name == word)


def pressure_drop(i: Inputs) -> float:
    return normalised_pressure_drop_bar(point(i["reference"]), point(i["actual"]), i["flow_exponent"])


COMPUTE: dict[str, Callable[[Inputs], float]] = {
    "nlf_factor_f25": lambda i: 1.0 / conductivity.temperature_ratio(i["t_C"], "natural"),
    "kappa25_linear": lambda i: conductivity.at_25c(i["kappa_uScm"], i["t_C"], "linear", per_kelvin=i["alpha_per_K"]),
    "nacl_kappaT_over_kappa25": lambda i: conductivity.temperature_ratio(i["t_C"], "nacl"),
    "nacl_molar_conductivity_25C": lambda i: conductivity.molar_conductivity_nacl(i["c_mol_per_L"]),
    "nacl_kappa25_from_mgL": lambda i: conductivity.conductivity_25c_us_cm(i["NaCl_mg_per_L"]),
    "nacl_mgL_from_kappa25": lambda i: conductivity.tds_mg_l(i["kappa25_uScm"]),
    "permeate_TDS_NaCl_from_raw": lambda i: conductivity.tds_mg_l(
        conductivity.at_25c(i["kappa_uScm"], i["t_C"], "nacl")
    ),
    "seawater_salt_mass_conc": lambda i: seawater.concentration_g_l(i["SA_gkg"], i["t_C"]),
    "osmotic_pressure_seawater": lambda i: seawater.osmotic_pressure_bar(i["SA_gkg"], i["t_C"]),
    "osmotic_pressure_seawater_fit": lambda i: seawater.osmotic_pressure_bar(i["SA_gkg"], i["t_C"]),
    "osmotic_pressure_astm_form": lambda i: 100.0 * seawater.osmotic_pressure_d4516_bar(i["C_mg_per_L"], i["t_C"]),
    "osmotic_pressure_nacl_25C": lambda i: sodium_chloride.osmotic_pressure_bar(i["NaCl_mg_per_L"] / 1000.0),
    "density_seawater": lambda i: seawater.density_kg_m3(i["SA_gkg"], i["t_C"]),
    "viscosity_seawater": lambda i: 1000.0 * seawater.viscosity_pa_s(i["S_gkg"], i["t_C"]),
    "viscosity_water": lambda i: 1000.0 * seawater.viscosity_pa_s(0.0, i["t_C"]),
    "nameplate_A": lambda i: nameplate(i).water_permeability_lmh_bar,
    "nameplate_B": lambda i: nameplate(i).salt_permeability_lmh,
    "nameplate_pressure_drop": lambda i: i["P_bar"] - nameplate_test(i).outlet_bar,
    "cp_factor_inlet_nameplate": lambda i: nameplate_test(i).polarisation_inlet,
    "element_permeate_flow": lambda i: element(i).product_flow_l_h,
    "element_permeate_TDS": lambda i: element(i).product_tds_mg_l,
    "element_recovery": lambda i: element(i).recovery,
    "element_pressure_drop": lambda i: element(i).pressure_drop_bar,
    "cp_factor_inlet": lambda i: element(i).polarisation_inlet,
    "element_brine_concentration": lambda i: element(i).brine_concentration_g_l,
    "tcf_arrhenius": lambda i: temperature_factor(i["Ea_kJmol"], i["t_C"]),
    "Ea_equivalent_of_1.03_at_25C": lambda i: activation_energy_kj_mol(1.03),
    "logmean_factor": lambda i: log_mean_factor(i["recovery"]),
    "net_driving_pressure": lambda i: net_driving_pressure_bar(point(i["state"])),
    "normalised_permeate_flow": lambda i: normalised(i).product_flow_l_h,
    "normalised_salt_passage": lambda i: 100.0 * normalised(i).salt_passage,
    "normalised_differential_pressure": pressure_drop,
    "kcl_standard_kappa": kcl,
    "kappa25_from_kappa20_nlf": lambda i: conductivity.at_25c(i["kappa20_uScm"], 20.0, "natural"),
    "epa_secondary_TDS": lambda i: guidance.US_SECONDARY_TDS_MG_L,
    "who_taste_good_upper": lambda i: taste_bound("good"),
    "who_taste_unacceptable_above": lambda i: taste_bound("poor"),
    "kappa25_at_chloride_250mgL_as_NaCl": lambda i: of_nacl(250.0, 35.453),
    "kappa25_at_sodium_200mgL_as_NaCl": lambda i: of_nacl(200.0, 22.990),
    "specific_energy": lambda i: energy.specific_energy_wh_l(i["P_W"], i["Q_L_per_h"]),
}


@pytest.mark.parametrize("entry", [e for e in ENTRIES if e["id"] not in YARDSTICKS], ids=lambda e: e["id"])
def test_code_gives_the_published_value(entry: dict[str, Any]) -> None:
    found = COMPUTE[entry["quantity"]](entry["inputs"])
    assert math.isclose(found, entry["expected"], rel_tol=1e-12, abs_tol=entry["tolerance"]), (
        f"{entry['quantity']} {entry['inputs']}: {found:.6g} instead of {entry['expected']} {entry['unit']} "
        f"(± {entry['tolerance']}; {entry['source']}; {entry['provenance']})"
    )


def test_every_value_names_its_source_and_no_computation_is_left_over() -> None:
    assert all(entry["source"] and entry["provenance"] for entry in ENTRIES)
    used = {entry["quantity"] for entry in ENTRIES if entry["id"] not in YARDSTICKS}
    assert used == set(COMPUTE)
    assert len({entry["id"] for entry in ENTRIES}) == len(ENTRIES)
