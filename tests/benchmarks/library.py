"""What the benchmarks of the library print, read from their tables."""

import re
import subprocess

import table

UNITS_MS = {"ns": 1e-6, "µs": 1e-3, "ms": 1.0, "s": 1000.0}
# A line of the table: the name behind the branches of a tree, then the fastest time.
LINE = re.compile(r"^(?P<tree>[│ ]*)[├╰]─ (?P<name>.*?)\s+(?P<time>[\d.]+) (?P<unit>ns|µs|ms|s)\s")
GROUP = re.compile(r"^(?P<tree>[│ ]*)[├╰]─ (?P<name>.*?)\s*[│ ]*$")
# How often each benchmark is run.
SAMPLES = 15
YEAR, WEEKS = "(525600, 60)", "(8064, 600)"


def fastest_ms(program, *filters):
    """Least time of each benchmark in ms, by its name and arguments."""
    said = subprocess.run(
        [program, "--bench", "--sample-count", str(SAMPLES), *filters], stdout=subprocess.PIPE, check=True, text=True
    )
    found = {}
    above = ""
    for line in said.stdout.splitlines():
        if match := LINE.match(line):
            inner = len(match["tree"]) > 0
            name = f"{above} {match['name']}" if inner else match["name"]
            found[name] = float(match["time"]) * UNITS_MS[match["unit"]]
        elif (match := GROUP.match(line)) and not match["tree"]:
            above = match["name"]
    if not found:
        raise SystemExit(f"{program} printed no times:\n{said.stdout}")
    return found


def season(program):
    """From CSV to a verdict, for a year of minutes and for 8 weeks of 10 minutes."""
    found = fastest_ms(program)
    for what, name in [("read CSV", "import_csv"), ("encode", "encode"), ("decode", "decode")]:
        for log, arguments in [("a year", YEAR), ("8 weeks", WEEKS)]:
            table.add(f"{what}, {log}", found[f"{name} {arguments}"], "ms")
    steps = [(name, ms) for name, ms in found.items() if name.startswith("assess_step")]
    for name, ms in steps:
        step, samples, _ = re.findall(r"[\w-]+", name.removeprefix("assess_step"))
        log = "a year" if samples == "525600" else "8 weeks"
        table.add(f"assess {step}, {log}", ms, "ms")
    both = found[f"decode_and_assess {YEAR}"]
    table.add("decode and assess glue-down, a year", both, "ms", ("<=", 20))
    table.add("decode and assess all steps, a year", found[f"decode_and_assess_all {YEAR}"], "ms")


def chart(program):
    found = fastest_ms(program)
    for name, what, target in [
        ("png_1400x1100", "chart of 500,000 samples, PNG", ("<=", 300)),
        ("svg_1400x1100", "chart of 500,000 samples, SVG", ("<=", 300)),
        ("terminal_120", "chart of 500,000 samples, as text", ("<=", 300)),
        ("png_with_course", "the same as PNG with its strips, as `plot`", None),
    ]:
        table.add(what, found[name], "ms", target)


def records(record, verify):
    found = fastest_ms(record)
    table.add("record of 12 weeks, PDF", found["twelve_weeks"], "ms")
    table.add("record of 12 weeks, web page", found["twelve_weeks_html"], "ms")
    table.add("verify a record of 12 weeks", fastest_ms(verify)["twelve_weeks"], "ms")


def mount(program):
    said = subprocess.run([program, "--bench"], stdout=subprocess.PIPE, check=True, text=True)
    for line in said.stdout.splitlines():
        size, us, read, ms = re.search(
            r"log of (\d+) KiB: ([\d.]+) us .* (\d+) bytes read, ([\d.]+) ms", line
        ).groups()
        note = f"{read} bytes read, {ms} ms at 1 MB/s"
        table.add(f"mount a full log of {size} KiB", float(us), "us", digits=1, note=note)
