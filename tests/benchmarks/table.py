"""The rows of the table, and what they are held against."""

import sys

rows = []


def append(row):
    """Shows it at once as well: all of them take minutes."""
    print(" | ".join(row), file=sys.stderr)
    rows.append(row)


def add(what, value, unit, target=None, digits=2, note=""):
    """`target` is `("<=", 20)` or `(">=", 90)` in the unit of the value, or none."""
    met = ""
    limit = ""
    if target is not None:
        sign, bound = target
        limit = f"{'at most' if sign == '<=' else 'at least'} {bound:g} {unit}"
        met = "met" if (value <= bound if sign == "<=" else value >= bound) else "NOT MET"
    append((what, f"{value:.{digits}f} {unit}", limit, met, note))


def missing(what, why):
    """A row that could not be measured, which is never a pass."""
    append((what, "not measured", "", "NOT MET", why))


def show():
    """Prints the table; whether all targets were met."""
    print("| what | measured | target | | |")
    print("|---|---|---|---|---|")
    for row in rows:
        print("| " + " | ".join(row) + " |")
    behind = [row[0] for row in rows if row[3] == "NOT MET"]
    if behind:
        print("\nnot met: " + "; ".join(behind), file=sys.stderr)
    return not behind
