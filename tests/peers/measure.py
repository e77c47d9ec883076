"""Measures the check by four programs side by side, and compares all figures with the reference.

measure.py PEER_CHECK PYTHON FOLDER ROUNDS: the program `peer_check`, the Python that has the libraries,
where the year is and the results go, and how many rounds are measured. A round has each program do the
check once, so that all of them meet the same load of the machine.
"""

import json
import os
import platform
import statistics
import subprocess
import sys
import time
from pathlib import Path

import edges
import reference

HERE = Path(__file__).resolve().parent
LIBRARIES = ["pandas", "polars", "duckdb"]
# What is compared, in the words of the table.
NAMES = {"figures": "glueday", "product": "glueday, CSV to verdict"}
TOLERANCE = 1e-9
TICK_S = 1 / os.sysconf("SC_CLK_TCK")


def commands(peer_check, python):
    """How each is started, behind it `once` or `serve`, and the file."""
    ours = {name: lambda how, path, what=what: [peer_check, how, what, path]
            for what, name in NAMES.items()}  # fmt: skip
    worker = str(HERE / "worker.py")
    peers = {name: lambda how, path, name=name: [python, worker, how, name, path]
             for name in LIBRARIES}  # fmt: skip
    return ours | peers


def said_by(command):
    return subprocess.run(command, stdout=subprocess.PIPE, check=True).stdout


def compare(name, log, found, expected):
    for figure, value in expected.items():
        if not abs(found[figure] - value) <= TOLERANCE * abs(value):
            sys.exit(f"{name}: {figure} of {log} is {found[figure]!r}, and should be {value!r}")
    if found.keys() != expected.keys():
        sys.exit(f"{name}: figures {sorted(found)}")


def check_answer(name, log, answer, expected):
    """The product has no such figures: it judges by its own rules."""
    if name != NAMES["product"]:
        compare(name, log, answer["figures"], expected)


def try_edges(programs, folder):
    path = str(folder / "edge.csv")
    for log, text in edges.edges():
        Path(path).write_text(text)
        expected = reference.check(path)
        for name, command in programs.items():
            if name == NAMES["product"]:
                continue
            compare(name, log, json.loads(said_by(command("once", path)))["figures"], expected)


class Warm:
    """A program that has started, and does the check when it is told to."""

    def __init__(self, command):
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def check(self):
        self.process.stdin.write("\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())

    def cpu_s(self):
        """Processor time so far, of all threads that there were."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) * TICK_S

    def end(self):
        self.process.stdin.close()
        if self.process.wait() != 0:
            sys.exit(f"{self.process.args} ended with {self.process.returncode}")


def warm(programs, path, expected, rounds):
    running = {name: Warm(command("serve", path)) for name, command in programs.items()}
    results = {name: {"wall_s": []} for name in programs}
    for name, program in running.items():
        # What is only needed once is not counted.
        check_answer(name, "the year", program.check(), expected)
        results[name]["cpu_s"] = -program.cpu_s()
    for _ in range(rounds):
        for name, program in running.items():
            answer = program.check()
            check_answer(name, "the year", answer, expected)
            results[name]["wall_s"].append(answer.pop("seconds"))
            for part in answer.keys() - {"figures", "samples", "go"}:
                results[name].setdefault(part, []).append(answer[part])
    for name, program in running.items():
        results[name]["cpu_s"] = (results[name]["cpu_s"] + program.cpu_s()) / rounds
        program.end()
    return results


def whole(programs, path, expected, rounds):
    """Each round starts each program anew."""
    results = {name: {"wall_s": [], "cpu_s": [], "peak_mib": []} for name in programs}
    for _ in range(rounds):
        for name, command in programs.items():
            start = time.perf_counter()
            process = subprocess.Popen(command("once", path), stdout=subprocess.PIPE)
            said = process.stdout.read()
            _, status, used = os.wait4(process.pid, 0)
            took_s = time.perf_counter() - start
            process.returncode = os.waitstatus_to_exitcode(status)
            if process.returncode != 0:
                sys.exit(f"{name} ended with {process.returncode}")
            check_answer(name, "the year", json.loads(said), expected)
            results[name]["wall_s"].append(took_s)
            results[name]["cpu_s"].append(used.ru_utime + used.ru_stime)
            results[name]["peak_mib"].append(used.ru_maxrss / 1024)
    for result in results.values():
        result["cpu_s"] = min(result["cpu_s"])
        result["peak_mib"] = max(result["peak_mib"])
    return results


def print_table(title, results):
    ours = results[NAMES["figures"]]
    print(f"\n| {title} | least s | median s | CPU s | least, of ours | CPU, of ours | peak MiB |")
    print("|---|---|---|---|---|---|---|")
    for name, result in results.items():
        least, middle = min(result["wall_s"]), statistics.median(result["wall_s"])
        peak = f"{result['peak_mib']:.0f}" if "peak_mib" in result else ""
        print(
            f"| {name} | {least:.3f} | {middle:.3f} | {result['cpu_s']:.3f} "
            f"| {least / min(ours['wall_s']):.2f} | {result['cpu_s'] / ours['cpu_s']:.2f} "
            f"| {peak} |"
        )


def main():
    peer_check, python, folder, rounds = sys.argv[1:]
    folder, rounds = Path(folder), int(rounds)
    programs = commands(peer_check, python)
    try_edges(programs, folder)
    path = str(folder / "year.csv")
    # In a process of its own: what is started from a large one counts its memory as if it used it.
    expected = json.loads(said_by([sys.executable, str(HERE / "reference.py"), path]))
    print("All programs find the same figures as the reference: " +
          ", ".join(f"{figure} {value:.6g}" for figure, value in expected.items()))  # fmt: skip
    load = os.getloadavg()[0]
    loaded = warm(programs, path, expected, rounds)
    processes = whole(programs, path, expected, rounds)
    rows = sum(1 for _ in open(path)) - 1
    print(
        f"\n{rows} rows, {rounds} rounds, {os.cpu_count()} processors, "
        f"load at the beginning {load:.1f}, Python {platform.python_version()}"
    )
    print_table("load and check", loaded)
    print_table("as a whole process", processes)
    parts = loaded[NAMES["product"]]
    print("\nCSV to verdict, least of each part:", ", ".join(
        f"{part.removesuffix('_seconds')} {min(values):.3f} s"
        for part, values in sorted(parts.items()) if part.endswith("_seconds")))  # fmt: skip
    results = {"load": load, "warm": loaded, "process": processes}
    (folder / "results.json").write_text(json.dumps(results))


if __name__ == "__main__":
    main()
