"""Runs what was built and prints the table: measure.py FOLDER [peers] [board], without what is named."""

import json
import os
import re
import statistics
import subprocess
import sys
from pathlib import Path

import firmware
import growth
import library
import processes
import table


def programs(messages):
    """What cargo built, by name."""
    found = {}
    for line in messages.read_text().splitlines():
        message = json.loads(line)
        if message.get("executable"):
            found[message["target"]["name"]] = message["executable"]
    return found


def peers(folder):
    """The comparison with other programs, which ran before."""
    results = json.loads((folder.parent / "peers" / "results.json").read_text())
    for key, what, target in [
        ("warm", "CSV of a year read and checked", 100),
        ("process", "the same as a whole process", None),
    ]:
        for name, result in results[key].items():
            least, middle = min(result["wall_s"]) * 1e3, statistics.median(result["wall_s"]) * 1e3
            table.add(f"{what}: {name}", least, "ms",
                      ("<=", target) if target and name == "glueday" else None, 0,
                      f"median {middle:.0f} ms, processor time {result['cpu_s'] * 1e3:.0f} ms"
                      )  # fmt: skip


# What the benchmark of books prints: name, runs, least and median ms, user and system ms, peak MiB.
PROCESS = re.compile(r"^(\S.*?) +(\d+) +([\d.]+) +([\d.]+) +(\d+) +(\d+) +([\d.]+)$", re.MULTILINE)


def book(program):
    """Many jobs in a table, and a chart of a year, as whole processes."""
    said = subprocess.run(
        [program, "sites", "plot year"], stdout=subprocess.PIPE, check=True, text=True
    )
    rows = PROCESS.findall(said.stdout)
    if not rows:
        raise SystemExit(f"{program} printed no rows:\n{said.stdout}")
    for name, runs, least, middle, *_, peak in rows:
        note = f"median of {runs}, least {float(least):.0f} ms"
        target = ("<=", 2000) if name == "sites 1000 jobs" else None
        table.add(f"`{name}`, process", float(middle), "ms", target, 0, note)
        table.add(f"`{name}`, peak memory", float(peak), "MiB", ("<=", 64), 1)


def main():
    folder = Path(sys.argv[1])
    without = sys.argv[2:]
    built = programs(folder / "built.json")
    if "peers" not in without:
        peers(folder)
    library.season(built["season"])
    library.chart(built["chart"])
    library.records(built["record"], built["verify"])
    if "book" in built:
        book(built["book"])
    library.mount(built["mount"])
    processes.measure(built["glueday"], built["growth"], folder)
    lines = growth.measure(built["growth"], folder)
    firmware.flash()
    firmware.goodput()
    if "board" not in without:
        firmware.board()
    commit = subprocess.run(["git", "rev-parse", "--short", "HEAD"], stdout=subprocess.PIPE, text=True)
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}, commit {commit.stdout.strip()}\n")
    met = table.show()
    print("\nGrowth of decoding and the verdict of gluing down, one-minute readings:\n")
    print("\n".join(lines))
    sys.exit(0 if met else 1)


if __name__ == "__main__":
    main()
