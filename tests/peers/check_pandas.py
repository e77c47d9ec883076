"""The check in pandas, with Arrow's reader of CSV, which uses all cores."""

import numpy as np
import pandas as pd

ACTIVATION_K = 40_000.0 / 8.314462618


def check(path):
    log = pd.read_csv(path, engine="pyarrow", usecols=["ts", "t_surf", "t_air", "rh"])
    ts = log["ts"].to_numpy().astype("datetime64[s]").astype(np.int64)
    surface, air, rh = (log[name].to_numpy() for name in ("t_surf", "t_air", "rh"))

    step_s = np.diff(ts)
    dt_s = np.append(np.minimum(step_s, 150), 60)

    exponent = np.log(rh / 100) + 17.62 * air / (243.12 + air)
    spread = surface - 243.12 * exponent / (17.62 - exponent)

    good = (
        (air >= 18) & (air <= 27) & (rh >= 35) & (rh <= 65) & (surface >= 15) & (surface <= 27)
    )
    # A streak begins at a good row behind a bad one or a gap, and ends at one before such.
    joined = good[:-1] & good[1:] & (step_s <= 150)
    first = np.flatnonzero(good & ~np.append(False, joined))
    last = np.flatnonzero(good & ~np.append(joined, False))
    streaks_s = ts[last] - ts[first]

    by_time = pd.Series(surface, index=pd.DatetimeIndex(log["ts"]))
    least = by_time.rolling("24h", closed="both").min().to_numpy()

    age = np.exp(-ACTIVATION_K * (1 / (surface + 273.15) - 1 / 293.15))
    return {
        "dp_spread_min": float(spread.min()),
        "streak_end_h": float(streaks_s[-1]) / 3600 if good[-1] else 0.0,
        "streak_max_h": float(streaks_s.max(initial=0)) / 3600,
        "rise24_max": float((surface - least).max()),
        "hours_above": float(dt_s[surface > 27.0].sum()) / 3600,
        "eq_age_d": float(age @ dt_s) / 86_400,
    }
