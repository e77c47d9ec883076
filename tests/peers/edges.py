"""Small logs at the edges of the definition, so that no check is right by chance on the year alone."""

from datetime import datetime, timedelta

START = datetime(2025, 3, 1)
GOOD = (20.00, 21.00, 45.00)


def log(rows):
    """CSV of rows of seconds and the three readings."""
    lines = ["ts,t_surf,t_air,rh,t_supply"]
    for at_s, (surface, air, rh) in rows:
        ts = (START + timedelta(seconds=at_s)).strftime("%Y-%m-%d %H:%M:%S")
        lines.append(f"{ts},{surface:.2f},{air:.2f},{rh:.2f},27.00")
    return "\n".join(lines) + "\n"


def minutes(count, readings=GOOD, start=0):
    return [(start + 60 * i, readings) for i in range(count)]


def edges():
    """Each log with its name."""
    cool, hot = (15.00, 21.00, 45.00), (31.00, 21.00, 45.00)
    yield "one row", log(minutes(1))
    yield "one row out of range", log(minutes(1, hot))
    yield "the last row out of range", log(minutes(10) + minutes(1, hot, 600))
    yield "only the last row in range", log(minutes(10, hot) + minutes(1, GOOD, 600))
    # A gap of exactly 150 s joins, one second more does not.
    yield "gap of 150 s", log(minutes(10) + minutes(10, GOOD, 540 + 150))
    yield "gap of 151 s", log(minutes(10) + minutes(10, GOOD, 540 + 151))
    # Time over 27.00 °C goes on into a gap, but for 150 s at most.
    yield "hot before a gap", log(minutes(3, hot) + minutes(3, GOOD, 5000))
    # Rows at the limits are one streak; one a hundredth beyond any of them ends a streak.
    limits = [(15.00, 18.00, 35.00), (27.00, 27.00, 65.00)] * 5
    yield "at the limits", log([(60 * i, readings) for i, readings in enumerate(limits)])
    beyond = [
        (14.99, 20.00, 45.00), (27.01, 20.00, 45.00), (20.00, 17.99, 45.00),
        (20.00, 27.01, 45.00), (20.00, 20.00, 34.99), (20.00, 20.00, 65.01),
    ]  # fmt: skip
    rows = [readings for bad in beyond for readings in (GOOD, GOOD, GOOD, bad)] + [GOOD]
    yield "beyond the limits", log([(60 * i, readings) for i, readings in enumerate(rows)])
    # The least of the day counts when it is 24 h old to the second, and not a minute later.
    for name, later in [("24 h", 86_400), ("24 h and a minute", 86_460)]:
        yield f"rise over {name}", log(
            minutes(1, cool) + minutes(5, GOOD, 60) + minutes(1, hot, later)
        )
    yield "falls all the time", log(
        [(60 * i, (30.00 - 0.01 * i, 21.00, 45.00)) for i in range(1500)]
    )
