"""The check in DuckDB: one statement over read_csv."""

import duckdb

# Rows come in the order of the file, which is that of time: windows without an order of their own are
# computed on the way and sort nothing.
STATEMENT = """
WITH log AS (
    SELECT epoch(ts)::BIGINT AS at_s, t_surf,
        t_air BETWEEN 18 AND 27 AND rh BETWEEN 35 AND 65 AND t_surf BETWEEN 15 AND 27 AS good,
        ln(rh / 100) + 17.62 * t_air / (243.12 + t_air) AS exponent
    FROM read_csv(?, header = true, delim = ',', quote = '', columns = {
        'ts': 'TIMESTAMP_S', 't_surf': 'DOUBLE', 't_air': 'DOUBLE', 'rh': 'DOUBLE',
        't_supply': 'DOUBLE'
    })
),
near AS (
    SELECT *,
        at_s - lag(at_s) OVER () AS before_s,
        lead(at_s) OVER () - at_s AS dt_s,
        lag(good) OVER () AS was_good
    FROM log
),
streaks AS (
    -- A streak begins at a good row behind a bad one or a gap.
    SELECT *,
        max(CASE WHEN good AND (was_good IS NOT TRUE OR before_s > 150) THEN at_s END)
            OVER (ROWS UNBOUNDED PRECEDING) AS first_s
    FROM near
),
days AS (
    SELECT *,
        min(t_surf) OVER (ORDER BY at_s RANGE BETWEEN 86400 PRECEDING AND CURRENT ROW) AS lowest
    FROM streaks
)
SELECT
    min(t_surf - 243.12 * exponent / (17.62 - exponent)) AS dp_spread_min,
    coalesce(max(at_s - first_s) FILTER (good AND dt_s IS NULL), 0) / 3600 AS streak_end_h,
    coalesce(max(at_s - first_s) FILTER (good), 0) / 3600 AS streak_max_h,
    max(t_surf - lowest) AS rise24_max,
    coalesce(sum(least(coalesce(dt_s, 60), 150)) FILTER (t_surf > 27.0), 0) / 3600 AS hours_above,
    sum(exp(-40000 / 8.314462618 * (1 / (t_surf + 273.15) - 1 / 293.15))
        * least(coalesce(dt_s, 60), 150)) / 86400 AS eq_age_d
FROM days
"""


def check(path):
    with duckdb.connect() as database:
        result = database.execute(STATEMENT, [str(path)])
        names = [column[0] for column in result.description]
        return dict(zip(names, map(float, result.fetchone())))
