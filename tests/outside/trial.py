"""A small trial for the tests: three covers and bare ground in three blocks, with every kind of measure."""

import copy

CODE = "T-31"
BY = "A. Tester"

PLAN = {
    "format": "guardrow plan 1",
    "trial": {
        "code": CODE,
        "title": "Cover of the seedbed",
        "season": 2031,
        "site": "Low Field",
        "crop": "oat",
        "currency": "EUR",
        "people": [{"name": BY, "role": "trial lead"}],
    },
    "question": {
        "decision": "whether to leave the straw",
        "who_acts": "growers of the valley",
        "claims": [
            {
                "statement": "Straw raises the yield",
                "measure": "yield",
                "comparison": {
                    "first": {"factor": "cover", "level": "straw"},
                    "second": {"factor": "cover", "level": "clover"},
                },
                "direction": "higher",
                "margin": "200 kg/ha",
            }
        ],
    },
    "treatments": {
        "factors": [
            {
                "name": "cover",
                "scale": {"kind": "qualitative"},
                "levels": [{"label": "straw"}, {"label": "clover"}, {"label": "mustard"}],
            }
        ],
        "controls": [{"label": "bare ground", "plots_per_replicate": 1}],
    },
    "arrangement": {"kind": "randomised_blocks", "replicates": 3},
    "measures": [
        {"key": "stand", "name": "Stand", "unit": "plants/m2", "event": "Stand count", "range": [0.0, 900.0]},
        {
            "key": "vigour",
            "name": "Vigour",
            "unit": "score",
            "event": "Stand count",
            "range": [1.0, 5.0],
            "anchors": ["hardly alive", "lush"],
        },
        {"key": "weeds", "name": "Weeds", "unit": "count", "event": "Stand count"},
        {"key": "cover_pct", "name": "Ground cover", "unit": "%", "event": "Stand count"},
        {"key": "straw_mass", "name": "Straw", "unit": "kg", "event": "Straw"},
    ],
    "harvest": {"yield_unit": "kg/ha"},
    "supply": {
        "stands": [{"stand": "300 plants/m2"}],
        "lots": [{"lot": "OAT-1"}],
        "emergence_pct": 80.0,
        "overfill_pct": 5.0,
        "reserve_pct": 10.0,
    },
    "exclusion_rule": "plots under water for a day",
}

LOT = {
    "code": "OAT-1",
    "crop": "oat",
    "variety": "entry 1",
    "thousand_kernel_weight_g": 38.5,
    "germination_pct": 94.0,
    "germination_tested": "2031-02-01",
    "treatment": "seed dressing",
    "on_hand": "40 kg",
}


def plan(**changes):
    """The plan, with parts replaced."""
    return {**copy.deepcopy(PLAN), **changes}


def start(server, code=CODE, seed="42"):
    """Takes the trial to a drawn layout; gives the layout's answer."""
    body = plan()
    body["trial"]["code"] = code
    server.put("/api/lots/OAT-1", {"lot": LOT, "by": BY, "reason": "" if code == CODE else "looked at again"})
    server.post("/api/trials", {"plan": body, "by": BY})
    return server.post(f"/api/trials/{code}/layout", {"by": BY, "seed": seed})


def plots(layout):
    """Plot numbers with their treatments, in number order."""
    labels = layout["treatments"]
    numbered = [plot for plot in layout["layout"]["plots"] if plot["number"] is not None]
    return {plot["number"]: labels[plot["treatment"]] for plot in sorted(numbered, key=lambda plot: plot["number"])}
