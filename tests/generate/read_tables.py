"""Reads a CSV file with Python's csv module and a Parquet file with DuckDB, and compares them.

Usage: read_tables.py FILE.csv FILE.parquet; prints one JSON document.
"""

import csv
import json
import sys

import duckdb

csv_path, parquet_path = sys.argv[1:]

# newline="": line ends are left to the module, as its documentation asks.
with open(csv_path, encoding="utf-8", newline="") as file:
    header, *rows = list(csv.reader(file, strict=True))

db = duckdb.connect()
db.execute("SET TimeZone = 'UTC'")
table = db.execute("SELECT * FROM read_parquet(?)", [parquet_path])
columns = [(name, str(kind)) for name, kind, *_ in table.description]


def same(cell, value, kind):
    """Whether a cell of the CSV and a value of the Parquet file are the same."""
    if value is None:
        return cell == ""
    if kind.startswith("TIMESTAMP"):
        return cell == value.strftime("%Y-%m-%dT%H:%M:%SZ")
    if kind == "DOUBLE":
        # The same number, not a near one.
        return float(cell) == value
    if kind == "BIGINT":
        return int(cell) == value
    return cell == value


different, counted = [], 0
while chunk := table.fetchmany(10_000):
    for values in chunk:
        cells = rows[counted] if counted < len(rows) else []
        counted += 1
        for cell, value, (name, kind) in zip(cells, values, columns):
            if not same(cell, value, kind):
                different.append([counted, name, cell, str(value)])
        if len(cells) != len(values):
            different.append([counted, "columns", len(cells), len(values)])

metadata = db.execute("SELECT key, value FROM parquet_kv_metadata(?)", [parquet_path]).fetchall()
groups = db.execute(
    "SELECT count(DISTINCT row_group_id) FROM parquet_metadata(?)", [parquet_path]
).fetchone()[0]

json.dump(
    {
        "header": header,
        "csv_rows": rows[:400],
        "csv_count": len(rows),
        "parquet_count": counted,
        "columns": columns,
        "different": different[:20],
        "row_groups": groups,
        "metadata": {key.decode(): value.decode() for key, value in metadata},
    },
    sys.stdout,
)
