"""Prints moist-air values by psychrolib (ASHRAE Handbook of Fundamentals 2017) as JSON.

Run by the test `reference_psychrolib`, which installs psychrolib into an environment of its own.
The grid shares no state with fixtures/reference/points.json. Humidity is over ice below 0 C, as
ASHRAE counts it. Units: C, % and Pa; kg/kg, g/m3 and kJ/kg of dry air.
"""

import json
import sys

import psychrolib

TEMPERATURES_C = [-18.5, -7.5, -2.25, 0.5, 3.3, 8.2, 12.7, 17.4, 18.9, 21.6, 23.8, 26.4, 29.1]
TEMPERATURES_C += [33.7, 38.6, 47.3, 58.1]
HUMIDITIES_PCT = [6.5, 17, 28, 33.5, 42, 47.5, 58, 71, 83, 92.5, 99]
PRESSURES_PA = [101000.0, 92500.0, 71000.0]
ALTITUDES_M = [-120, 45, 310, 720, 1650, 2240, 3600, 4800]


def state(air_c, rh_pct, pressure_pa):
    """All quantities of moist air at one temperature, humidity and pressure."""
    rh = rh_pct / 100
    ratio = psychrolib.GetHumRatioFromRelHum(air_c, rh, pressure_pa)
    volume_m3_kg = psychrolib.GetMoistAirVolume(air_c, ratio, pressure_pa)
    return {
        "air_c": air_c,
        "rh_pct": rh_pct,
        "pressure_pa": pressure_pa,
        "dew_or_frost_point_c": psychrolib.GetTDewPointFromRelHum(air_c, rh),
        "vapor_pressure_pa": psychrolib.GetVapPresFromRelHum(air_c, rh),
        "humidity_ratio": ratio,
        "absolute_humidity_g_m3": 1000 * ratio / volume_m3_kg,
        "enthalpy_kj_kg": psychrolib.GetMoistAirEnthalpy(air_c, ratio) / 1000,
    }


def main():
    psychrolib.SetUnitSystem(psychrolib.SI)
    document = {
        "states": [
            state(air_c, rh_pct, pressure_pa)
            for air_c in TEMPERATURES_C
            for rh_pct in HUMIDITIES_PCT
            for pressure_pa in PRESSURES_PA
        ],
        "saturation": [
            {"temperature_c": t, "pressure_pa": psychrolib.GetSatVapPres(t)} for t in TEMPERATURES_C
        ],
        "standard": [
            {"altitude_m": z, "pressure_pa": psychrolib.GetStandardAtmPressure(z)}
            for z in ALTITUDES_M
        ],
    }
    json.dump(document, sys.stdout, indent=1, allow_nan=False)
    print()


if __name__ == "__main__":
    main()
