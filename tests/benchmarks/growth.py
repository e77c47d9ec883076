"""How time and memory grow with the log: whether a straight line fits."""

import json
import math
import subprocess

import table

SAMPLES = [1_000, 10_000, 100_000, 1_000_000, 10_000_000]
# Twice the samples may cost this much more than twice the time: x1.15 over each ten times is 0.06.
SLOPE = 1.06


def slope(points):
    """Of the line through the logarithms, by least squares: 1 when twice the samples cost twice."""
    logs = [(math.log(x), math.log(y)) for x, y in points]
    mean_x = sum(x for x, _ in logs) / len(logs)
    mean_y = sum(y for _, y in logs) / len(logs)
    return sum((x - mean_x) * (y - mean_y) for x, y in logs) / sum(
        (x - mean_x) ** 2 for x, _ in logs
    )


def measure(growth, folder):
    """The rows of growth; the same as lines to print."""
    lines = [
        "| samples | decode ms | assess ms | ns a sample | peak MiB | bytes a sample beyond the least |",
        "|---|---|---|---|---|---|",
    ]
    times, peaks = [], []
    for samples in SAMPLES:
        blocks = folder / "growth.blocks"
        subprocess.run([growth, "make", str(samples), blocks], check=True)
        said = subprocess.run([growth, "measure", blocks], stdout=subprocess.PIPE, check=True)
        found = json.loads(said.stdout)
        assert found["samples"] == samples, found
        both_s = found["decode_s"] + found["assess_s"]
        times.append((samples, both_s))
        peaks.append((samples, found["peak_kib"] * 1024))
        more = (peaks[-1][1] - peaks[0][1]) / samples
        lines.append(
            f"| {samples} | {found['decode_s'] * 1e3:.3f} | {found['assess_s'] * 1e3:.3f} "
            f"| {both_s / samples * 1e9:.1f} | {peaks[-1][1] / 2**20:.1f} | {more:.1f} |"
        )
        blocks.unlink()
    # Below 10,000 samples the job itself, and the program in memory, count for more than the log.
    of_time = slope(times[1:])
    least = peaks[0][1]
    of_memory = slope([(samples, peak - least) for samples, peak in peaks[2:]])
    table.add("growth of time, 1e4 to 1e7 samples", of_time, "slope", ("<=", SLOPE))
    table.add("growth of memory, 1e5 to 1e7 samples", of_memory, "slope", ("<=", SLOPE))
    return lines
