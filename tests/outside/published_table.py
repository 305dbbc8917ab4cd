"""Makes the tables of docs/numbers/published-trials.md from the record of a run of the tests.

    python -m pytest tests/outside -k reference
    python tests/outside/published_table.py test-output/outside/published-trials.json
"""

import json
import sys
from pathlib import Path

from cases import REFERENCE

PAGE = Path(__file__).parents[2] / "docs/numbers/published-trials.md"
HEAD = "| case | source | what it is | numbers compared | off, closed forms | off, fitted models | nearest to its tolerance |"
HEAD_PARTLY = "| case | golden values that no comparison from outside uses, and why |"
HEAD_ENGINE = "| case | source | what it is | why not from outside | compared in |"

AS_COUNTS = (
    "generalised linear models without plots, by maximum or quasi-likelihood: here plots are units of their own and variances are "
    "fitted by restricted likelihood, which is compared with glmmTMB instead; the golden fits in `tests/generalised`"
)
# What is not compared from outside of a case that otherwise is.
PARTLY = {
    "beet-webworm-counts": AS_COUNTS,
    "beet-yield-adjusted-for-stand": "means by the model with random blocks, which here stand beside strata that lead",
    "durum-augmented-blocks": "new entries as a sample with blocks fixed: blocks are random here",
    "maize-hybrids-six-counties": "county C2 by the model: its golden model has replicates fixed, ours has their variance at zero; errors "
    "of means without Kenward and Roger's correction",
    "oats-alpha-design": "the same model with replicates fixed",
    "oats-variety-nitrogen-split-plot": "a model of main effects alone: factors of a plan are crossed",
    "pea-npk-confounded": "a model without the three-factor interaction: factors of a plan are crossed",
    "plant-dry-weight": "Scheffé's and Welch's tests, which are not offered",
    "potato-fertilizer-missing-plots": "errors of single factors' means with blocks fixed, of pairs",
    "potato-scab-sulphur": "tests of normality and of ranks, which are not offered; the trend over rates, of which none is a level of the plan "
    "with a control",
    "rice-seeding-rate": "efficiency of blocking, and an error that holds the lack of fit",
    "rice-tillers-subsamples": "errors of means to be had with other numbers of blocks and hills",
    "seed-germination-temperature": AS_COUNTS,
    "sprouts-manure-plus-control": "tests of all treatments as one factor: the plan has a factorial beside a control",
    "turnip-variety-date-density": "errors of single means with blocks fixed: blocks are random here",
    "varieties-sites-years": "regression of varieties on the means of environments, in `tests/network`",
    "wheat-lattice-spatial": "autoregression both ways, in `tests/field_trend`: a plan cannot ask for it yet",
    "wheat-row-column": "means of the model with replicates fixed",
    "wheat-trend-three-columns": "autoregression along columns, in `tests/field_trend`: a plan cannot ask for it yet",
    "wireworm-latin-square": AS_COUNTS,
}
REGRESSION = ("a regression on single values, which is no trial", "`tests/certified`")
# Cases that the command cannot be asked for: why, and which tests of the engine (crates/inference) hold them.
ENGINE = {
    "f-test-power": ("no data; power belongs to planning", "the tests of power"),
    "maize-nitrogen-response": (
        "printed means of nine replicates, whose error is not published: a trial of one plot for each amount has none",
        "`tests/curve/maize.rs`",
    ),
    "potato-lifting-damage-scores": (
        "its golden model adds up four factors without interactions; factors of a plan are crossed",
        "`tests/generalised/scores.rs`",
    ),
    "white-mould-trials-meta": ("summaries of 35 trials; joining summaries is no command yet", "`tests/meta`"),
    **{f"nist/{name}": REGRESSION for name in ("longley", "noint1", "norris", "wampler1", "wampler3", "wampler5")},
}


def published():
    """The golden files of all published and certified cases, by case."""
    files = {path.parent: json.loads(path.read_text()) for path in REFERENCE.glob("**/expected.json")}
    return {
        folder.relative_to(REFERENCE).as_posix(): golden
        for folder, golden in sorted(files.items())
        if "source" in golden and "kinds" in golden
    }


def size(value):
    return "none" if value == 0 else f"{value:.0e}"


def source_and_kind(golden):
    return golden["source"].replace("|", "/"), "; ".join(golden["kinds"])


def row(case, golden, record):
    source, kind = source_and_kind(golden)
    compared = record["closed"] + record["iterated"]
    closed = size(record["closed_off"]) if record["closed"] else "-"
    iterated = size(record["iterated_off"]) if record["iterated"] else "-"
    nearest = f"{100 * record['nearest']:.2g} % of it: {record['nearest_what']}" if record["nearest"] >= 0.01 else "below 1 %"
    return f"| `{case}` | {source} | {kind} | {compared} | {closed} | {iterated} | {nearest} |"


def engine_row(case, golden):
    source, kind = source_and_kind(golden)
    why, where = ENGINE[case]
    return f"| `{case}` | {source} | {kind} | {why} | {where} |"


def replaced(text, head, lines):
    """The table below this head, with these rows."""
    start = text.index(head) + len(head) + 1
    end = text.find("\n\n", start)
    rule = "|" + "---|" * (head.count("|") - 1)
    return text[:start] + "\n".join([rule, *lines]) + (text[end:] if end >= 0 else "\n")


def rows_of_page():
    """The cells of each row of each table, by case: (from outside, by the engine alone)."""
    tables = {}
    for head in (HEAD, HEAD_ENGINE):
        below = PAGE.read_text().split(head + "\n", 1)[1].split("\n\n", 1)[0].splitlines()[1:]
        cells = [[cell.strip() for cell in line.strip("|").split(" | ")] for line in below]
        tables[head] = {line[0].strip("` "): line for line in cells}
    return tables[HEAD], tables[HEAD_ENGINE]


def main():
    records = json.loads(Path(sys.argv[1]).read_text())
    cases = published()
    missing = sorted(cases.keys() - records.keys() - ENGINE.keys())
    if missing:
        sys.exit(f"nothing was compared of {', '.join(missing)}: run all of tests/outside first, or say in ENGINE why")
    text = PAGE.read_text()
    text = replaced(text, HEAD, [row(case, golden, records[case]) for case, golden in cases.items() if case in records])
    text = replaced(text, HEAD_PARTLY, [f"| `{case}` | {why} |" for case, why in sorted(PARTLY.items())])
    text = replaced(text, HEAD_ENGINE, [engine_row(case, cases[case]) for case in sorted(ENGINE) if case in cases])
    PAGE.write_text(text)


if __name__ == "__main__":
    main()
