"""The field workbook in the hands of an independent spreadsheet library (openpyxl): read, filled, saved, taken in."""

import datetime
import re

import openpyxl
import pytest

from program import run, run_well, served
from stored import count
from trial import BY, CODE

EVENT = "Stand count"
FIRST_ROW = 9
DAY, OBSERVER = "C4", "G4"
# Value column and "if none" column of each measure, in the order of the plan.
COLUMNS = {"stand": ("F", "G"), "vigour": ("H", "I"), "weeds": ("J", "K"), "cover_pct": ("L", "M")}
NOTE = "N"
WHY_NONE = ["not seen", "lost", "not applicable"]


@pytest.fixture
def made(station):
    """The workbook of one event, its file and the trial's plots."""
    folder, plots = station
    file = run_well("document", folder, CODE, "field-workbook", "--by", BY, "--event", EVENT).out.strip()
    return folder, file, plots


def plot_rows(sheet, plots):
    rows = range(FIRST_ROW, FIRST_ROW + len(plots))
    assert sorted(sheet[f"B{row}"].value for row in rows) == sorted(plots)
    return rows


def offered(workbook, formula):
    """The words of a drop-down: its formula names a range of cells on another sheet."""
    sheet, area = re.fullmatch(r"'?([^'!]+)'?!(\$\w+\$\d+:\$\w+\$\d+)", formula.lstrip("=")).groups()
    return [cell.value for (cell,) in workbook[sheet][area.replace("$", "")]]


def validation(sheet, address):
    found = [rule for rule in sheet.data_validations.dataValidation if address in rule.sqref]
    assert len(found) == 1, f"{len(found)} rules on {address}"
    return found[0]


def test_only_the_cells_to_fill_in_are_unlocked(made):
    _, file, plots = made
    workbook = openpyxl.load_workbook(file)
    sheet = workbook[EVENT]
    assert sheet.protection.sheet is True
    rows = plot_rows(sheet, plots)
    open_columns = [column for pair in COLUMNS.values() for column in pair] + [NOTE]
    expected = {DAY, OBSERVER} | {f"{column}{row}" for column in open_columns for row in rows}
    unlocked = {cell.coordinate for line in sheet.iter_rows() for cell in line if not cell.protection.locked}
    assert unlocked == expected
    assert all(sheet[f"B{row}"].protection.locked for row in rows), "a plot number could be typed over"


def test_headings_stay_in_view_and_the_lists_are_hidden(made):
    _, file, _ = made
    workbook = openpyxl.load_workbook(file)
    assert workbook[EVENT].freeze_panes == f"C{FIRST_ROW}"
    hidden = [sheet.title for sheet in workbook if sheet.sheet_state != "visible"]
    assert hidden == ["guardrow", "guardrow_lists"]
    assert all(workbook[name].protection.sheet for name in hidden)
    assert [sheet.title for sheet in workbook if sheet.sheet_state == "visible"] == [EVENT]


def test_what_may_be_written_is_offered_and_limited(made):
    _, file, plots = made
    workbook = openpyxl.load_workbook(file)
    sheet = workbook[EVENT]
    for row in plot_rows(sheet, plots):
        for _, (_, none) in COLUMNS.items():
            rule = validation(sheet, f"{none}{row}")
            assert rule.type == "list" and offered(workbook, rule.formula1) == WHY_NONE
        score = validation(sheet, f"H{row}")
        assert score.type == "list" and offered(workbook, score.formula1) == [1, 2, 3, 4, 5]
        stand = validation(sheet, f"F{row}")
        assert (stand.type, float(stand.formula1), float(stand.formula2)) == ("decimal", 0, 900)
        assert validation(sheet, f"J{row}").type == "whole"
        cover = validation(sheet, f"L{row}")
        assert (cover.type, float(cover.formula1), float(cover.formula2)) == ("decimal", 0, 100)
    assert validation(sheet, DAY).type == "date"


def test_plots_come_in_walking_order_with_their_places(made):
    folder, file, plots = made
    sheet = openpyxl.load_workbook(file)[EVENT]
    with served(folder) as server:
        rows = server.get(f"/api/trials/{CODE}/observations?event=Stand%20count")["rows"]
        layout = server.get(f"/api/trials/{CODE}/layout")
    walked = [sheet[f"B{row}"].value for row in plot_rows(sheet, plots)]
    assert walked == [row["plot"] for row in rows]
    places = {plot["number"]: (plot["range"], plot["pass"]) for plot in layout["layout"]["plots"]}
    for row in plot_rows(sheet, plots):
        number = sheet[f"B{row}"].value
        assert sheet[f"E{row}"].value == plots[number]
        assert (sheet[f"C{row}"].value, sheet[f"D{row}"].value) == places[number]


def fill(file, plots, to):
    """Fills a workbook as a person would, and gives what must come back: (plot, measure) to status and value."""
    workbook = openpyxl.load_workbook(file)
    sheet = workbook[EVENT]
    sheet[DAY] = datetime.date(2031, 5, 20)
    sheet[OBSERVER] = "R. Walker"
    expected = {}
    for index, row in enumerate(plot_rows(sheet, plots)):
        plot = sheet[f"B{row}"].value
        written = {
            "stand": 281.25 + index * 3.1,
            "vigour": 1 + index % 5,
            "weeds": index % 3,  # zero is a value
            "cover_pct": round(99.9 - index * 7.7, 1),
        }
        if index == 1:
            written["stand"] = "not seen"
        if index == 2:
            written["vigour"] = "lost"
        if index == 3:
            written["weeds"] = "not applicable"
        if index == 4:
            written["cover_pct"] = None  # not yet
        for measure, value in written.items():
            entry, none = COLUMNS[measure]
            sheet[f"{none if value in WHY_NONE else entry}{row}"] = value
            if value is not None:
                status = value.replace(" ", "_") if value in WHY_NONE else "value"
                expected[plot, measure] = (status, None if value in WHY_NONE else value)
    workbook.save(to)
    return expected


def test_a_filled_workbook_comes_back_with_every_value_equal(made, tmp_path, output):
    folder, file, plots = made
    filled = output / "filled-by-openpyxl.xlsx"
    expected = fill(file, plots, filled)
    report = run_well("take-in", folder, CODE, filled, "--by", BY, "--accept", "--json").json()
    assert report["accepted"] == len(expected) == 4 * len(plots) - 1
    with served(folder) as server:
        table = server.get(f"/api/trials/{CODE}/observations?event=Stand%20count")
    came_back = {}
    for row in table["rows"]:
        for measure, entries in zip(table["measures"], row["cells"], strict=True):
            for entry in entries:
                assert (row["plot"], measure["key"]) not in came_back, "one entry for each cell"
                came_back[row["plot"], measure["key"]] = (entry["status"], entry.get("value"))
                assert entry["by"] == BY
                assert "filled-by-openpyxl.xlsx" in entry["source"] and EVENT in entry["source"], entry["source"]
    assert came_back == expected
    on_the_day = "SELECT count(*) FROM entry WHERE observed_at LIKE '2031-05-20%'"
    assert count(folder, on_the_day) == len(expected)


def test_a_value_beside_a_reason_for_having_none_is_refused(made, tmp_path):
    folder, file, plots = made
    workbook = openpyxl.load_workbook(file)
    sheet = workbook[EVENT]
    sheet[f"F{FIRST_ROW}"] = 300
    sheet[f"G{FIRST_ROW}"] = "lost"
    workbook.save(tmp_path / "both.xlsx")
    answer = run("take-in", folder, CODE, tmp_path / "both.xlsx", "--by", BY, "--accept")
    assert answer.code == 5, answer.out + answer.err
    assert str(sheet[f"B{FIRST_ROW}"].value) in answer.err and f"line {FIRST_ROW}" in answer.err
    assert count(folder, "SELECT count(*) FROM entry WHERE kind = 'observation'") == 0


def test_a_note_on_a_plot_is_not_lost(made, tmp_path):
    folder, file, plots = made
    workbook = openpyxl.load_workbook(file)
    sheet = workbook[EVENT]
    sheet[f"F{FIRST_ROW}"] = 300
    sheet[f"{NOTE}{FIRST_ROW}"] = "hare damage along the edge"
    workbook.save(tmp_path / "noted.xlsx")
    run_well("take-in", folder, CODE, tmp_path / "noted.xlsx", "--by", BY, "--accept")
    noted = "SELECT count(*) FROM entry WHERE remark LIKE '%hare damage%' OR body LIKE '%hare damage%' OR text LIKE '%hare damage%'"
    assert count(folder, noted) >= 1


def test_a_workbook_without_an_event_has_a_sheet_for_each(station):
    folder, _ = station
    file = run_well("document", folder, CODE, "field-workbook", "--by", BY).out.strip()
    visible = [sheet.title for sheet in openpyxl.load_workbook(file) if sheet.sheet_state == "visible"]
    assert visible == ["Stand count", "Straw", "Harvest"]
