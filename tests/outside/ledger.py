"""Which golden values were compared, and how far off they were at most.

`Golden` is a golden file that notes every number that is read from it; `compared` notes every comparison. At the end of a run both
are written to `published-trials.json` (see conftest.py), from which `published_table.py` makes the table in
docs/numbers/published-trials.md; test_reference_whole.py asks of every golden number whether it was read.
"""

from collections import defaultdict
from dataclasses import dataclass

# The golden values read of each case, as places in its file: `means/pairs/*/se`.
read = defaultdict(set)
# The worst comparison of each case and tolerance.
worst = defaultdict(dict)
# The case of the running test.
running = None


@dataclass
class Worst:
    count: int = 0
    # Relative difference, and the difference as a share of what is allowed.
    relative: float = 0.0
    share: float = 0.0
    what: str = ""


def begin(case):
    global running
    running = case


def compared(ours, golden, relative, allowed, what):
    if running is None:
        return
    entry = worst[running].setdefault(relative, Worst())
    difference = abs(ours - golden)
    share = difference / allowed if allowed > 0 else float(difference > 0)
    entry.count += 1
    if golden != 0:
        # Beside a scale of its own (an absolute allowance) a relative difference says nothing.
        entry.relative = max(entry.relative, difference / abs(golden) if relative * abs(golden) >= allowed else 0.0)
    if share > entry.share:
        entry.share, entry.what = share, what


class Golden(dict):
    """A part of a golden file; reading a value from it notes the place."""

    def __init__(self, values, case, place=()):
        super().__init__(values)
        self.case, self.place = case, place

    def __getitem__(self, key):
        return noted(super().__getitem__(key), self.case, (*self.place, key))

    def get(self, key, default=None):
        return self[key] if key in self else default

    def items(self):
        return [(key, self[key]) for key in self]

    def values(self):
        return [self[key] for key in self]


class GoldenList(list):
    """A list of a golden file; all its members have one place."""

    def __init__(self, values, case, place):
        super().__init__(values)
        self.case, self.place = case, place

    def __getitem__(self, index):
        found = super().__getitem__(index)
        if isinstance(index, slice):
            return GoldenList(found, self.case, self.place)
        return noted(found, self.case, (*self.place, "*"))

    def __iter__(self):
        return (noted(value, self.case, (*self.place, "*")) for value in super().__iter__())


def noted(value, case, place):
    if isinstance(value, dict):
        return Golden(value, case, place)
    if isinstance(value, list):
        return GoldenList(value, case, place)
    read[case].add("/".join(place))
    return value


def places(value, place=()):
    """The places of all values of a golden file."""
    if isinstance(value, dict):
        return {found for key, inner in value.items() for found in places(inner, (*place, key))}
    if isinstance(value, list):
        return {found for inner in value for found in places(inner, (*place, "*"))}
    return {"/".join(place)}
