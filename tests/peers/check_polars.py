"""The check in polars: one lazy query over the scanned file."""

import polars as pl

ACTIVATION_K = 40_000.0 / 8.314462618


def check(path):
    ts, surface, air, rh = (pl.col(name) for name in ("ts", "t_surf", "t_air", "rh"))
    good, dt_s, first = (pl.col(name) for name in ("good", "dt_s", "first"))
    seconds = ts.diff().dt.total_seconds()
    exponent = (rh / 100).log() + 17.62 * air / (243.12 + air)
    streak_s = pl.when(good).then((ts - first).dt.total_seconds()).otherwise(0)

    figures = (
        pl.scan_csv(path)
        .select(ts.str.to_datetime("%Y-%m-%d %H:%M:%S", cache=False), surface, air, rh)
        .with_columns(ts.set_sorted())
        .with_columns(
            good=air.is_between(18, 27) & rh.is_between(35, 65) & surface.is_between(15, 27),
            dt_s=seconds.shift(-1).clip(upper_bound=150).fill_null(60),
            least=surface.rolling_min_by(ts, window_size="24h", closed="both"),
        )
        # A streak begins at a good row behind a bad one or a gap.
        .with_columns(
            first=pl.when(good & (~good.shift() | (seconds > 150)).fill_null(True))
            .then(ts)
            .forward_fill(),
        )
        .select(
            dp_spread_min=(surface - 243.12 * exponent / (17.62 - exponent)).min(),
            streak_end_h=streak_s.last() / 3600,
            streak_max_h=streak_s.max() / 3600,
            rise24_max=(surface - pl.col("least")).max(),
            hours_above=dt_s.filter(surface > 27.0).sum() / 3600,
            eq_age_d=((-ACTIVATION_K * (1 / (surface + 273.15) - 1 / 293.15)).exp() * dt_s).sum()
            / 86_400,
        )
        .collect()
    )
    return figures.row(0, named=True)
