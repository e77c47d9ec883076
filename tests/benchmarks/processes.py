"""The program as a whole: time and memory of processes."""

import os
import statistics
import subprocess
import time
from pathlib import Path

import table

WEEKS_RUNS = 41
COLUMNS = ["time=ts", "slab=t_surf[C]", "air=t_air[C]", "rh=rh[%]", "supply=t_supply[C]"]


def run(arguments, codes=(0,)):
    """Seconds that a process took, and the most memory that it had in MiB."""
    start = time.perf_counter()
    process = subprocess.Popen(arguments, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    talk = process.stderr.read()
    _, status, used = os.wait4(process.pid, 0)
    took_s = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in codes:
        raise SystemExit(f"{arguments} ended with {process.returncode}: {talk.decode()}")
    return took_s, used.ru_maxrss / 1024


def last_time(csv):
    """The time of the last row, as `--at` takes it."""
    with open(csv, "rb") as file:
        file.seek(-200, os.SEEK_END)
        return file.read().decode().splitlines()[-1].split(",")[0].replace(" ", "T") + "Z"


def measure(glueday, growth, folder):
    for log, samples, interval_s in [("8 weeks", 8_064, 600), ("a year", 525_600, 60)]:
        csv, job = folder / f"{samples}.csv", folder / f"{samples}.toml"
        archive = folder / f"{samples}.db"
        subprocess.run([growth, "csv", str(samples), str(interval_s), csv], check=True)
        subprocess.run([growth, "job", "bench", job], check=True)
        columns = [word for column in COLUMNS for word in ("--column", column)]
        taken, peaks = [], []
        for _ in range(3):
            for file in folder.glob(f"{samples}.db*"):
                file.unlink()
            took_s, peak = run(
                [glueday, "--archive", archive, "import", csv, "--name", "bench"]
                + columns
                + ["--zone", "UTC"]
            )
            taken.append(took_s)
            peaks.append(peak)
        table.add(f"`import`, {log}, process", min(taken) * 1000, "ms", note="least of 3")
        if log == "a year":
            table.add(f"`import`, {log}, peak memory", max(peaks), "MiB", ("<=", 64), 1)
        # Wait is an answer too.
        question = [glueday, "--archive", archive, "check", job, "--at", last_time(csv)]
        runs = [run(question, (0, 1)) for _ in range(WEEKS_RUNS if log == "8 weeks" else 5)]
        middle = statistics.median(took_s for took_s, _ in runs) * 1000
        least = min(took_s for took_s, _ in runs) * 1000
        note = f"median of {len(runs)}, least {least:.1f} ms"
        target = ("<=", 15) if log == "8 weeks" else None
        table.add(f"`check`, {log}, process", middle, "ms", target, 1, note)
        peak = max(peak for _, peak in runs)
        table.add(f"`check`, {log}, peak memory", peak, "MiB", ("<=", 64), 1)
