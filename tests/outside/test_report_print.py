"""The printed report against the JSON of the same report, as independent tools read the PDF (poppler)."""

import re
import subprocess

import pytest

from program import run_well


def finished(demo):
    view = run_well("trials", demo, "--json").json()
    return [line["code"] for line in view["trials"] if line["stage"] == "observed"]


@pytest.fixture(scope="module")
def reports(demo):
    """Of every finished trial the PDF and the JSON."""
    codes = finished(demo)
    assert len(codes) >= 2
    return {
        code: (demo / "publications" / f"{code}-report.pdf", run_well("findings", demo, code, "--json").json())
        for code in codes
    }


def poppler(tool, *arguments):
    return subprocess.run([tool, *map(str, arguments)], check=True, capture_output=True, text=True).stdout


def text_of(pdf):
    return plain(poppler("pdftotext", "-raw", "-nopgbrk", pdf, "-"))


def plain(text):
    """Text without what line breaks do to it: white space goes, and with it a hyphen between two letters that a break
    may have put there. A minus before a digit stays."""
    text = text.replace("\u2212", "-").replace("\u00ad", "").replace("\u2010", "-")
    return re.sub(r"(?<=[^\W\d_])-(?=[^\W\d_])", "", re.sub(r"\s+", "", text))


def column(table, heading):
    return next((at for at, column in enumerate(table["columns"]) if column["heading"] == heading), None)


def told_in_full(answer):
    """The measures that a claim rests on; the others stand side by side in a table."""
    found = [response for response in answer["report"]["responses"] if response["deciding"]]
    assert found
    return found


def beside(answer):
    return [response for response in answer["report"]["responses"] if not response["deciding"]]


def test_the_print_holds_every_sentence_of_the_findings(reports):
    for code, (pdf, answer) in reports.items():
        printed = text_of(pdf)
        assert answer["report"]["findings"]
        for finding in answer["report"]["findings"]:
            for words in (finding["claim"], finding["verdict"]["word"], finding["sentence"], finding["numbers"]):
                assert plain(words) in printed, f"{code}: {words}"
        for words in [*answer["report"]["not_meant"], *answer["report"]["cautions"]]:
            assert plain(words) in printed, f"{code}: {words}"
        for response in told_in_full(answer):
            assert plain(response["gate_sentence"]) in printed, f"{code}: {response['key']}"
            for notice in response["notices"]:
                assert plain(notice["text"]) in printed, f"{code}: {notice['text']}"


def test_the_print_holds_every_mean_with_its_error(reports):
    for code, (pdf, answer) in reports.items():
        printed = text_of(pdf)
        found = 0
        for response in told_in_full(answer):
            for table in response["means"]:
                for row in (row for row in table["rows"] if row["kind"] != "group"):
                    assert plain("".join(row["cells"][1:])) in printed, f"{code}, {response['key']}: {row['cells']}"
                    found += 1
        assert found >= 4, code


def test_the_print_holds_every_test(reports):
    for code, (pdf, answer) in reports.items():
        printed = text_of(pdf)
        found = 0
        for response in told_in_full(answer):
            for row in (row for row in response["tests"]["rows"] if row["kind"] != "group"):
                assert plain("".join(row["cells"][1:])) in printed, f"{code}, {response['key']}: {row['cells']}"
                found += row["cells"][column(response["tests"], "p")] != ""
        assert found >= 2, code


def test_the_other_measures_stand_in_the_print_side_by_side(reports):
    """Each has its means and the p of each term there; the same numbers as in its own tables in the JSON."""
    for code, (pdf, answer) in reports.items():
        printed = text_of(pdf)
        tables = [table for section in answer["report"]["sections"] for table in section["tables"]]
        columns = {}
        for table in tables:
            for row in table["rows"]:
                assert plain("".join(row["cells"][1:])) in printed, f"{code}: {row['cells']}"
            for at, heading in enumerate(table["columns"]):
                columns[heading["heading"]] = {row["cells"][0]: row["cells"][at] for row in table["rows"]}
        assert beside(answer)
        for response in beside(answer):
            shown = columns[response["measure"]]
            widest = max(response["means"], key=lambda table: len(table["rows"]))
            for row in widest["rows"]:
                if row["kind"] == "group":
                    break  # what follows are differences from a control
                assert shown[row["cells"][0]] == row["cells"][column(widest, "Mean")], f"{code}, {response['key']}"
            tests = response["tests"]
            p_of = {}
            for row in tests["rows"]:
                if row["kind"] != "group" and row["cells"][column(tests, "p")]:
                    # The leading method stands first.
                    p_of.setdefault(row["cells"][0], row["cells"][column(tests, "p")])
            assert p_of
            for term, p in p_of.items():
                assert shown[f"p, {term}"] == p, f"{code}, {response['key']}, {term}"


def test_rounded_numbers_are_those_of_the_full_precision(reports):
    """What is printed is what was computed, rounded once."""
    for code, (_, answer) in reports.items():
        analyses = {one["measure"]: one["analysis"] for one in answer["analyses"]}
        for response in answer["report"]["responses"]:
            analysis = analyses[response["key"]]
            shown = {}
            for table in response["means"]:
                mean = column(table, "Mean")
                rows = []
                for row in table["rows"]:
                    if row["kind"] == "group":
                        break  # what follows are differences from a control
                    rows.append(row["cells"])
                shown[table["caption"]] = [cells[mean] for cells in rows]
            for table in analysis["tables"]:
                printed = shown[f"Means: {table['label']}"]
                assert len(printed) == len(table["cells"])
                for text, cell in zip(printed, table["cells"], strict=True):
                    decimals = len(text.partition(".")[2])
                    # A half may be rounded either way.
                    half = 0.5 * 10**-decimals * (1 + 1e-9)
                    assert abs(float(text) - cell["mean"]) <= half, f"{code}, {response['key']}: {text}, {cell['mean']}"


def test_the_print_has_two_to_four_pages(reports):
    for code, (pdf, _) in reports.items():
        pages = int(re.search(r"^Pages:\s+(\d+)$", poppler("pdfinfo", pdf), re.MULTILINE).group(1))
        assert 2 <= pages <= 4, f"{code}: {pages} pages"


def test_all_fonts_are_in_the_file(reports):
    for code, (pdf, _) in reports.items():
        lines = poppler("pdffonts", pdf).splitlines()[2:]
        assert lines, code
        for line in lines:
            embedded = line.split()[-5]
            assert embedded == "yes", f"{code}: {line}"


def test_title_and_language_are_set_and_the_print_can_be_read_aloud(reports):
    for code, (pdf, answer) in reports.items():
        facts = dict(re.findall(r"^([\w ]+):\s+(.*)$", poppler("pdfinfo", pdf), re.MULTILINE))
        assert answer["report"]["heading"]["title"] in facts["Title"] and code in facts["Title"]
        assert facts["Tagged"] == "yes"
        language = re.search(r"<dc:language>.*?<rdf:li>([^<]+)</rdf:li>", poppler("pdfinfo", "-meta", pdf), re.DOTALL)
        assert language and language.group(1) == "en", code
