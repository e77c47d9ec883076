"""Does the check with one of the libraries: `worker.py once|serve LIBRARY FILE`.

`once` prints what came of it as a line of JSON; `serve` does so for each line that it is given, with
everything loaded already.
"""

import importlib
import json
import sys
from time import perf_counter


def answer(check, path):
    start = perf_counter()
    figures = check(path)
    return json.dumps({"seconds": perf_counter() - start, "figures": figures})


def main():
    how, library, path = sys.argv[1:]
    check = importlib.import_module(f"check_{library}").check
    for _ in sys.stdin if how == "serve" else [None]:
        print(answer(check, path), flush=True)


if __name__ == "__main__":
    main()
