#!/usr/bin/env python3
"""Judges every job of a data set on a Spark cluster, with the Rust program as the function that is mapped.

    assess.py DATA_SET TIME [PROGRAM]

DATA_SET is what `glueday export --data-set` wrote, TIME what is asked about (RFC 3339), PROGRAM the path of
`glueday` on the workers. Each partition of jobs goes through one process of the program: a job with the
blocks of its logs in, a verdict out, both lines of JSON. Prints the lines in the order of the jobs.
The cluster is that of SPARK_MASTER, or else one of two workers on this computer.
"""

import json
import os
import shlex
import sys

from pyspark.sql import SparkSession
from pyspark.sql import functions as f


def verdicts(spark, data_set, at, program):
    """One line of JSON for each job, as `glueday check - --json` writes it."""
    jobs = spark.read.parquet(f"{data_set}/jobs")
    blocks = spark.read.parquet(f"{data_set}/blocks")
    row = f.struct("logger", "logger_name", "block", f.base64("bytes").alias("bytes"), "sha256")
    logs = blocks.groupBy("job").agg(f.collect_list(row).alias("blocks"))
    # From the left, so that a job without any log is asked about as well.
    line = f.struct("job", "job_file", "block_count", "blocks")
    lines = jobs.join(logs, "job", "left").select(f.to_json(line).alias("line"))
    command = shlex.join([program, "check", "-", "--json", "--at", at])
    return lines.rdd.map(lambda row: row.line).pipe(command).collect()


def main(data_set, at, program="glueday"):
    master = os.environ.get("SPARK_MASTER", "local-cluster[2,1,1024]")
    spark = (
        SparkSession.builder.master(master)
        .appName("glueday fleet")
        # A job called 7 or 2026-03-01 is a name.
        .config("spark.sql.sources.partitionColumnTypeInference.enabled", "false")
        .config("spark.ui.enabled", "false")
        .getOrCreate()
    )
    try:
        count = spark.read.parquet(f"{data_set}/jobs").count()
        found = verdicts(spark, data_set, at, program)
    finally:
        spark.stop()
    # Spark does not look at how a piped process ends: what counts is that every job was answered.
    if len(found) != count:
        sys.exit(f"{len(found)} of {count} jobs were answered: see the log of the workers")
    for line in sorted(found, key=lambda line: json.loads(line)["job"] or ""):
        print(line)


if __name__ == "__main__":
    if not 3 <= len(sys.argv) <= 4:
        sys.exit(__doc__)
    main(*sys.argv[1:])
