"""Reads a data set with DuckDB and with Spark, and prints what both find as one JSON document.

    read.py DATA_SET

For each engine: the names of the columns of each table, and of the samples every row of the columns that
the test compares, in the order of job, room, boot and uptime.
"""

import json
import sys

import duckdb

TABLES = ["samples", "events", "blocks", "jobs"]
COLUMNS = ["job", "room", "month", "boot", "uptime_s", "time_s", "slab_c", "air_c", "air_rh_pct",
           "supply_c", "slab_absent", "emc_pct"]


def with_duckdb(data_set):
    db = duckdb.connect()
    for table in TABLES:
        db.execute(
            f"create view {table} as select * from read_parquet("
            f"'{data_set}/{table}/**/*.parquet', hive_partitioning = true, hive_types_autocast = false)"
        )
    columns = {t: sorted(r[0] for r in db.execute(f"describe {t}").fetchall()) for t in TABLES}
    wanted = ", ".join("epoch(time_utc)::bigint as time_s" if c == "time_s" else c for c in COLUMNS)
    rows = db.execute(f"select {wanted} from samples order by job, room, boot, uptime_s").fetchall()
    blocks = db.execute("select job, room, block, sha256, sha256(bytes) from blocks order by all").fetchall()
    return {"columns": columns, "samples": rows, "blocks": blocks}


def with_spark(data_set):
    from pyspark.sql import SparkSession
    from pyspark.sql import functions as f

    spark = (
        SparkSession.builder.master("local[2]")
        .config("spark.sql.sources.partitionColumnTypeInference.enabled", "false")
        .config("spark.ui.enabled", "false")
        .getOrCreate()
    )
    try:
        tables = {table: spark.read.parquet(f"{data_set}/{table}") for table in TABLES}
        columns = {table: sorted(frame.columns) for table, frame in tables.items()}
        samples = tables["samples"].withColumn("time_s", f.unix_timestamp("time_utc"))
        samples = samples.orderBy("job", "room", "boot", "uptime_s").select(*COLUMNS)
        blocks = tables["blocks"].select("job", "room", "block", "sha256", f.sha2("bytes", 256).alias("again"))
        return {
            "columns": columns,
            "samples": [tuple(row) for row in samples.collect()],
            "blocks": [tuple(row) for row in blocks.orderBy(*blocks.columns).collect()],
        }
    finally:
        spark.stop()


data_set = sys.argv[1]
print(json.dumps({"duckdb": with_duckdb(data_set), "spark": with_spark(data_set)}))
