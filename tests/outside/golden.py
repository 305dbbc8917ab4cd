"""Comparisons with golden values, at the tolerances of tests/reference/PROVENANCE.md."""

import ledger

# Relative, except that p may also be off by 1e-12.
STRATA = 1e-8
RAW_P = 1e-7
JOINT_P_ABSOLUTE = 1e-7
CLASSICAL = {"mean": 1e-8, "df": 1e-8, "p": 1e-7}
# Golden values of mixed models come from an iterative fit.
MIXED = {"mean": 1e-5, "df": 1e-4, "p": 1e-3}


def close(ours, golden, relative, what, absolute=0.0):
    assert ours is not None, f"{what}: nothing instead of {golden!r}"
    allowed = max(relative * abs(golden), absolute)
    ledger.compared(ours, golden, relative, allowed, what)
    assert abs(ours - golden) <= allowed, f"{what}: {ours!r} instead of {golden!r}"


def close_p(ours, golden, relative, what):
    close(ours, golden, relative, f"p of {what}", absolute=1e-12)


def row(analysis, stratum, source):
    """One row of the analysis of variance."""
    found = [
        row
        for rows in analysis["strata"]["strata"]
        if rows["stratum"] == stratum
        for row in rows["rows"]
        if row["source"] == source
    ]
    assert len(found) == 1, f"{len(found)} rows {source} in {stratum}"
    return found[0]


def check_row(ours, golden):
    what = ours["source"]
    assert ours["df"] == golden["df"], what
    close(ours["ss"], golden["ss"], STRATA, f"SS of {what}")
    close(ours["ms"], golden["ms"], STRATA, f"MS of {what}")
    if golden.get("f") is None:
        assert ours["f"] is None, what
    else:
        close(ours["f"], golden["f"], STRATA, f"F of {what}")
        close_p(ours["p"], golden["p"], RAW_P, what)


def check_strata(analysis, golden, ours):
    """All rows of all strata, in golden order; `ours` names them as (stratum, source)."""
    rows = [row for stratum in analysis["strata"]["strata"] for row in stratum["rows"]]
    assert len(rows) == len(golden) == len(ours)
    for expected, (stratum, source) in zip(golden, ours, strict=True):
        check_row(row(analysis, stratum, source), expected)


def check_tests(tests, golden, labels):
    """Tests by Kenward and Roger, or by Satterthwaite."""
    assert len(tests) == len(golden) == len(labels)
    for expected, label in zip(golden, labels, strict=True):
        ours = next(test for test in tests if test["label"] == label)
        assert ours["num_df"] == expected["num_df"], label
        close(ours["den_df"], expected["den_df"], 1e-4, f"den df of {label}")
        close(ours["f"], expected["f"], 1e-3, f"F of {label}")
        close_p(ours["p"], expected["p"], 1e-3, label)


def table(analysis, *term):
    """The table of means of a term; without a term that of all treatments, where there are controls."""
    found = [table for table in analysis["tables"] if table["term"] == list(term)]
    assert len(found) == 1, f"{len(found)} tables of {term}"
    return found[0]


def check_mean_values(ours, golden, keys, tolerance):
    """Means without their errors, where the golden ones speak of these very blocks and ours of blocks like these."""
    assert len(ours["cells"]) == len(golden) > 0
    means = {tuple(cell["levels"]): cell["mean"] for cell in ours["cells"]}
    for expected in golden:
        levels = tuple(expected[key] for key in keys)
        close(means[levels], expected["mean"], tolerance["mean"], f"mean of {levels}")


def check_means(ours, golden, keys, tolerance):
    """Means with errors and intervals; `keys` name the golden columns of the levels, in our factor order."""
    assert len(ours["cells"]) == len(golden["means"]) > 0
    for expected in golden["means"]:
        levels = [expected[key] for key in keys]
        cell = next(cell for cell in ours["cells"] if cell["levels"] == levels)
        close(cell["mean"], expected["mean"], tolerance["mean"], f"mean of {levels}")
        close(cell["se"], expected["se"], tolerance["mean"], f"SE of {levels}")
        close(cell["df"], expected["df"], tolerance["df"], f"df of {levels}")
        width = tolerance["mean"] * abs(expected["mean"])
        close(cell["lower"], expected["lower95"], tolerance["mean"], f"lower end of {levels}", width)
        close(cell["upper"], expected["upper95"], tolerance["mean"], f"upper end of {levels}", width)


def check_pairs(ours, golden, tolerance, name=lambda label: label):
    """All differences with SE, df and p, raw and joint; SED and LSD."""
    check_all_pairs(ours, golden["pairs"], tolerance, name)
    check_spread([pair["se"] for pair in ours["pairs"]], golden["sed"], tolerance)
    for key in ("min", "mean", "max"):
        close(ours["sed"][key], golden["sed"][key], tolerance["mean"], f"SED {key}")
        close(ours["lsd"][key], golden["lsd_5pct"][key], max(tolerance["mean"], tolerance["df"]), f"LSD {key}")
    check_letters(ours)


def check_spread(errors, golden, tolerance):
    """Smallest, mean and largest error of a difference, and their root mean square."""
    ours = {"min": min(errors), "mean": sum(errors) / len(errors), "max": max(errors)}
    ours["rms"] = (sum(error**2 for error in errors) / len(errors)) ** 0.5
    for key, value in golden.items():
        close(ours[key], value, tolerance["mean"], f"SED {key}")


def check_all_pairs(ours, golden, tolerance, name=lambda label: label):
    """All differences with SE, df and p, raw and joint."""
    labels = [" / ".join(cell["levels"]) for cell in ours["cells"]]
    assert len(ours["pairs"]) == len(golden) > 0
    scale = max(abs(cell["mean"]) for cell in ours["cells"])
    pairs = {(pair["a"], pair["b"]): pair for pair in ours["pairs"]}
    for expected in golden:
        a, b = (labels.index(name(expected[key])) for key in ("a", "b"))
        pair = pairs[min(a, b), max(a, b)]
        sign = 1 if a < b else -1
        what = f"{expected['a']} - {expected['b']}"
        smallest = tolerance["mean"] * scale
        close(sign * pair["estimate"], expected["difference"], tolerance["mean"], what, smallest)
        close(pair["se"], expected["se"], tolerance["mean"], f"SE of {what}")
        close(pair["df"], expected["df"], tolerance["df"], f"df of {what}")
        if "t" in expected:
            t = sign * pair["estimate"] / pair["se"]
            close(t, expected["t"], tolerance["mean"], f"t of {what}", smallest / pair["se"])
        close_p(pair["p"], expected["p_raw"], tolerance["p"], what)
        if expected.get("p_holm") is not None:
            close_p(pair["p_holm"], expected["p_holm"], tolerance["p"], f"{what} (Holm)")
        if expected.get("p_tukey") is not None:
            # The golden t and df of an iterative fit carry its error into p.
            own = tolerance["p"] * expected["p_tukey"] if tolerance is MIXED else 0.0
            close(pair["p_tukey"], expected["p_tukey"], 0.0, f"p by Tukey of {what}", max(own, JOINT_P_ABSOLUTE))


def check_letters(ours):
    """Two levels share a letter exactly when their joint p is not below 5 %."""
    if ours["letters"] is None:
        assert ours["letters_why_not"]
        return
    for pair in ours["pairs"]:
        shared = set(ours["letters"][pair["a"]]) & set(ours["letters"][pair["b"]])
        assert bool(shared) == (pair["p_tukey"] >= 0.05), ours["letters"]


def check_dunnett(ours, golden, name=lambda label: label):
    assert len(ours["comparisons"]) == len(golden["table"]) > 0
    for expected in golden["table"]:
        label = name(expected["level"])
        comparison = next(one for one in ours["comparisons"] if one["label"] == label)
        close(comparison["estimate"], expected["difference"], 1e-8, label, 1e-10)
        close(comparison["se"], expected["se"], 1e-8, f"SE of {label}")
        assert comparison["df"] == expected["df"], label
        close(comparison["estimate"] / comparison["se"], expected["t"], 1e-8, f"t of {label}", 1e-10)
        close(comparison["p_dunnett"], expected["p_dunnett"], 0.0, f"p of {label}", JOINT_P_ABSOLUTE)
        # The golden critical value was found to 1e-10.
        width = expected["upper95"] - expected["lower95"]
        close(comparison["lower"], expected["lower95"], 0.0, f"lower end of {label}", 1e-7 * width)
        close(comparison["upper"], expected["upper95"], 0.0, f"upper end of {label}", 1e-7 * width)
        critical = (comparison["upper"] - comparison["lower"]) / (2 * comparison["se"])
        close(critical, golden["critical_value_5pct"], 1e-7, "critical value")


def check_components(analysis, golden, terms):
    """Variance components by golden name, residual and log-likelihood."""
    variance = {component["term"]: component["variance"] for component in golden["components"]}
    ours = analysis["mixed"]["components"]
    residual = analysis["mixed"]["residual_variance"]
    assert len(ours) == len(terms)
    for component, term in zip(ours, terms, strict=True):
        close(component["variance"], variance[term], 1e-4, term, 1e-6 * residual)
    close(residual, variance["Residual"], 1e-4, "residual variance")
    close(analysis["mixed"]["reml_log_likelihood"], golden["reml_loglik"], 0.0, "log-likelihood", 1e-6)
