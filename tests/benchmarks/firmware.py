"""What the firmware's tests and benchmarks count, read from what they print."""

import re
import subprocess

import table

# With the features that the tests of the workspace are built with, as in tests/src/programs.rs.
PACKAGES = ["-p", "glueday", "-p", "glueday-desk", "-p", "glueday-firmware", "-p", "glueday-tests",
            "-p", "glueday-ring-trials"]


def said_by(*arguments):
    """What cargo's program printed, or why there is none."""
    done = subprocess.run(
        ["cargo", *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    if done.returncode != 0:
        last = (done.stdout + done.stderr).strip().splitlines()[-8:]
        print("\n".join(last))
        return None
    return done.stdout


def test(program, name):
    return said_by("test", "--locked", *PACKAGES, "--test", program, name,
                   "--", "--exact", "--nocapture")  # fmt: skip


def flash():
    said = said_by("bench", "--locked", "--profile", "dev", *PACKAGES,
                   "--bench", "flash_budget")  # fmt: skip
    rows = re.findall(r"^(.*): ([\d.]+) bytes a sample", said or "", re.MULTILINE)
    if not rows:
        table.missing("bytes of flash a sample", "flash_budget failed")
    for i, (supply, each) in enumerate(rows):
        target = ("<=", 8) if i == 0 else None
        table.add(f"flash a sample, {supply}", float(each), "bytes", target)


def goodput():
    name = "line::a_clean_line_moves_each_byte_once_at_nine_tenths_of_its_speed"
    rows = re.findall(
        r"^(unit \d+, trims \w+): .*: (\d+) B/s, ([\d.]+) %", test("pull_session", name) or "",
        re.MULTILINE,
    )  # fmt: skip
    if not rows:
        table.missing("goodput of a pull", "the test of the line failed")
    for line, speed, percent in rows:
        note = f"{speed} B/s of the log at 115200 baud, 16 ms turnaround"
        table.add(f"goodput of a pull, {line}", float(percent), "% of the line", (">=", 90), 1, note)


def board():
    name = "instructions_do_not_depend_on_the_speed_and_are_those_of_the_energy_budget"
    said = test("bench_cost", name) or ""
    rows = re.findall(r"^ *\d+ +([\d.]+) +([\d.]+) +([\d.]+)$", said, re.MULTILINE)
    if not rows:
        table.missing("instructions a sample", "the test on the emulated board failed")
        return
    sample, second, wakes = rows[0]
    table.add("instructions a sample, emulated Cortex-M3", float(sample), "", digits=0)
    table.add("instructions an idle second", float(second), "", digits=0, note=f"{wakes} wakes")
    name = "a_signature_costs_what_the_energy_budget_says"
    rows = re.findall(r"^ *\d+ +(\d+)$", test("bench_cost", name) or "", re.MULTILINE)
    if rows:
        table.add("instructions a signature", float(rows[0]), "", digits=0)
    else:
        table.missing("instructions a signature", "the test on the emulated board failed")
