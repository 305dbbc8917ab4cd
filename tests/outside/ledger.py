"""Which golden values of the published trials were compared, and how far off the worst of them was.

`Golden` is a golden file that notes every number that is read from it; `compared` notes every comparison. At the end of a run both
are written to test-output/outside/published-trials.json, from which `published_table.py` makes the table in
docs/numbers/published-trials.md.
"""

import json
from collections import defaultdict
from dataclasses import asdict, dataclass

# Above this relative tolerance a golden value comes from an iterative fit.
BY_ITERATION = 1e-7


@dataclass
class Record:
    """What was compared for one case."""

    # Comparisons with values from closed forms, and with values of iterative fits.
    closed: int = 0
    iterated: int = 0
    # Largest relative differences of each; differences that are judged beside another scale are left out.
    closed_off: float = 0.0
    iterated_off: float = 0.0
    # The comparison that came nearest to what is allowed, as a share of that.
    nearest: float = 0.0
    nearest_what: str = ""


# The places of the golden values that were read, by case: `means/pairs/*/se`.
read = defaultdict(set)
records = defaultdict(Record)
running = None


def begin(case):
    """All that is compared from here on belongs to this case; None: to none."""
    global running
    running = case


def compared(ours, golden, relative, allowed, what):
    """Notes one comparison; `allowed` is the absolute difference that is let pass."""
    if running is None:
        return
    record, difference = records[running], abs(ours - golden)
    kind = "iterated" if relative > BY_ITERATION and not running.startswith("nist/") else "closed"
    setattr(record, kind, getattr(record, kind) + 1)
    if golden != 0 and 0 < allowed <= relative * abs(golden):
        setattr(record, f"{kind}_off", max(getattr(record, f"{kind}_off"), difference / abs(golden)))
    share = difference / allowed if allowed > 0 else float(difference > 0)
    if share > record.nearest:
        record.nearest, record.nearest_what = share, what


def write(path):
    """The record of this run, by case."""
    cases = {case: {**asdict(record), "read": sorted(read[case])} for case, record in sorted(records.items())}
    path.write_text(json.dumps(cases, indent=1) + "\n")


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
    """The places of all numbers of a golden file."""
    if isinstance(value, dict):
        return {found for key, inner in value.items() for found in places(inner, (*place, key))}
    if isinstance(value, list):
        return {found for inner in value for found in places(inner, (*place, "*"))}
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return {"/".join(place)} if is_number else set()
