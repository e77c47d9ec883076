"""The five figures of a log, straight from their definition and with nothing but Python's own library.

The log is a CSV file with the header `ts,t_surf,t_air,rh,t_supply`: UTC as `YYYY-MM-DD HH:MM:SS`, in
order; degrees Celsius and percent with two decimals; a gap is rows that are missing.

A row lasts until the next one, but for at most MAX_GAP_S; the last row lasts LAST_S.

dp_spread_min  least distance of the surface from the dew point (Magnus, 17.62 and 243.12 °C), K
streak_end_h   how long the rows up to the last one have been in range, h; 0 when the last one is not
streak_max_h   the longest such streak anywhere, h; a gap over MAX_GAP_S ends a streak as well
rise24_max     most that the surface is above its least of the 24 h before, both ends counted, K
hours_above    how long the surface was above 27.00 °C, h
eq_age_d       equivalent age at 20 °C (Arrhenius, 40 kJ/mol), d
"""

import csv
import json
import math
import sys
from datetime import datetime, timezone

MAX_GAP_S = 150
LAST_S = 60
DAY_S = 86_400
GAS_CONSTANT = 8.314462618
ACTIVATION_J_MOL = 40_000.0


def dew_point_c(air_c, rh_pct):
    exponent = math.log(rh_pct / 100) + 17.62 * air_c / (243.12 + air_c)
    return 243.12 * exponent / (17.62 - exponent)


def in_range(surface_c, air_c, rh_pct):
    return 18 <= air_c <= 27 and 35 <= rh_pct <= 65 and 15 <= surface_c <= 27


def rows(path):
    with open(path, newline="") as file:
        for row in csv.DictReader(file):
            time = datetime.strptime(row["ts"], "%Y-%m-%d %H:%M:%S").replace(tzinfo=timezone.utc)
            yield int(time.timestamp()), float(row["t_surf"]), float(row["t_air"]), float(row["rh"])


def check(path):
    ts, surface, air, rh = map(list, zip(*rows(path)))
    count = len(ts)
    dt_s = [min(ts[i + 1] - ts[i], MAX_GAP_S) for i in range(count - 1)] + [LAST_S]

    longest_s = streak_s = 0
    first = None
    for i in range(count):
        if i > 0 and ts[i] - ts[i - 1] > MAX_GAP_S:
            first = None
        if not in_range(surface[i], air[i], rh[i]):
            first = None
        elif first is None:
            first = i
        streak_s = 0 if first is None else ts[i] - ts[first]
        longest_s = max(longest_s, streak_s)

    rise = 0.0
    lowest = min(surface)
    start = 0
    for i in range(count):
        while ts[start] < ts[i] - DAY_S:
            start += 1
        # Most rows cannot be above what was found, whatever came before them: that saves a minute.
        if surface[i] - lowest > rise:
            rise = max(rise, surface[i] - min(surface[start : i + 1]))

    def age_factor(celsius):
        return math.exp(-ACTIVATION_J_MOL / GAS_CONSTANT * (1 / (celsius + 273.15) - 1 / 293.15))

    return {
        "dp_spread_min": min(s - dew_point_c(a, h) for s, a, h in zip(surface, air, rh)),
        "streak_end_h": streak_s / 3600,
        "streak_max_h": longest_s / 3600,
        "rise24_max": rise,
        "hours_above": sum(dt for dt, s in zip(dt_s, surface) if s > 27.00) / 3600,
        "eq_age_d": math.fsum(age_factor(s) * dt for s, dt in zip(surface, dt_s)) / DAY_S,
    }


if __name__ == "__main__":
    print(json.dumps(check(sys.argv[1])))
