"""Bad input, each kind through the binary: what is said, the exit code, and that nothing was lost or half done.

The exit codes are those that `guardrow --help` lists. After every refusal the station holds, byte for byte, what it held
before: each table of its database read by SQLite itself, and every file of its folder.
"""

import json
import os
import random
import shutil
import sqlite3
import subprocess
import time
import warnings
from contextlib import contextmanager

import pytest

import trial
from program import Refusal, run, run_well, served
from stored import count, dump
from trial import BY, CODE

NOT_UNDERSTOOD, NOT_THERE, REFUSED, CHANGED, IN_USE, NEWER, NO_ROOM = 3, 4, 5, 6, 7, 8, 9


@contextmanager
def unchanged(station):
    before = dump(station)
    yield
    assert dump(station) == before, "a refusal changed the station"


def take_in(station, file, accept=True):
    arguments = ["take-in", station, CODE, file, "--by", BY]
    return run(*arguments, *(["--accept"] if accept else []))


def refused(station, file, code, *words):
    """The file is refused with these words, both when it is looked over and when it is to be accepted."""
    for accept in (False, True):
        with unchanged(station):
            answer = take_in(station, file, accept)
        assert answer.code == code, f"exit {answer.code}\n{answer.out}{answer.err}"
        for word in words:
            assert word in answer.err, f"{word!r} is not in:\n{answer.err}"
        assert "try:" in answer.err, answer.err
    return answer


def csv(folder, text, name="values.csv"):
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


# Values --------------------------------------------------------------------------------------------------------------


def test_an_unknown_unit_beside_a_value(station, tmp_path):
    folder, plots = station
    plot = next(iter(plots))
    file = csv(tmp_path, f"plot,measure,value,unit\n{plot},stand,310,wibbles\n")
    refused(folder, file, REFUSED, "wibbles", "line 2", "values.csv")


def test_a_unit_of_another_kind(station, tmp_path):
    folder, plots = station
    file = csv(tmp_path, f"plot,measure,value,unit\n{next(iter(plots))},stand,310,kg/ha\n")
    refused(folder, file, REFUSED, "kg/ha", "line 2")


def test_a_percentage_as_a_fraction_is_shown_and_never_turned_into_another_number(station, tmp_path):
    # Legal and almost surely wrong: the rule is to warn and to show what was understood.
    folder, plots = station
    plot = next(iter(plots))
    file = csv(tmp_path, f"plot,harvest_moisture\n{plot},0.145\n")
    with unchanged(folder):
        looked_at = take_in(folder, file, accept=False)
    assert looked_at.code == 0, looked_at.err
    for word in ("look at this", "0.145 %", "not as a fraction", "14.5", "line 2"):
        assert word in looked_at.out, f"{word!r} is not in:\n{looked_at.out}"
    assert "not as a fraction" in take_in(folder, file).out
    stored = "SELECT number FROM entry WHERE measure = 'harvest_moisture' AND plot_number = ?"
    assert count(folder, stored, plot) == 0.145


def test_a_negative_mass(station, tmp_path):
    folder, plots = station
    plot = next(iter(plots))
    refused(folder, csv(tmp_path, f"plot,straw_mass\n{plot},-2.5\n"), REFUSED, "-2.5", "negative", "line 2")
    refused(folder, csv(tmp_path, f"plot,harvest_mass\n{plot},-2.5\n"), REFUSED, "-2.5", "outside", "line 2")


def test_a_moisture_over_100(station, tmp_path):
    folder, plots = station
    plot = next(iter(plots))
    refused(folder, csv(tmp_path, f"plot,harvest_moisture\n{plot},145\n"), REFUSED, "145", "outside", "line 2")
    refused(folder, csv(tmp_path, f"plot,cover_pct\n{plot},101\n"), REFUSED, "101", "0 to 100", "line 2")


def test_a_plot_that_is_not_in_the_layout(station, tmp_path):
    folder, plots = station
    good = next(iter(plots))
    file = csv(tmp_path, f"plot,stand\n{good},310\n999,300\n")
    refused(folder, file, REFUSED, "plot 999 is not in the layout", "line 3", str(good))


def test_a_plot_twice(station, tmp_path):
    folder, plots = station
    plot = next(iter(plots))
    file = csv(tmp_path, f"plot,stand\n{plot},310\n{plot},311\n")
    refused(folder, file, REFUSED, f"plot {plot}", "twice", "line 2", "line 3")


def test_a_misspelt_treatment_gets_the_near_one_suggested(station, tmp_path):
    folder, plots = station
    plot = next(plot for plot, label in plots.items() if label == "mustard")
    file = csv(tmp_path, f"plot,treatment,stand\n{plot},musterd,310\n")
    refused(folder, file, REFUSED, "musterd", "did you mean “mustard”?", "line 2")


def test_rows_that_slipped_against_the_plot_numbers(station, tmp_path):
    folder, plots = station
    plot = next(plot for plot, label in plots.items() if label == "mustard")
    file = csv(tmp_path, f"plot,treatment,stand\n{plot},straw,310\n")
    refused(folder, file, REFUSED, "“mustard” in the layout, not “straw”", "line 2")


def test_one_wrong_row_among_many_refuses_the_whole_file(station, tmp_path):
    folder, plots = station
    rows = [f"{plot},310" for plot in plots]
    rows[4] = rows[4].replace("310", "31O")
    answer = refused(folder, csv(tmp_path, "plot,stand\n" + "\n".join(rows) + "\n"), REFUSED, "31O", "line 6")
    assert answer.err.count("where:") <= 2, answer.err
    assert count(folder, "SELECT count(*) FROM entry WHERE measure = 'stand'") == 0


# Plans ---------------------------------------------------------------------------------------------------------------


def plan_file(folder, text):
    file = folder / "plan.toml"
    file.write_text(text, encoding="utf-8")
    return file


def analysed(folder, plan, table="plot,cover,stand\n1,straw,3\n"):
    return run("analyse", plan_file(folder, plan), csv(folder, table, "table.csv"), "--json")


def test_an_unknown_unit_in_a_plan_file(tmp_path):
    answer = analysed(tmp_path, 'format = "guardrow plan 1"\n\n[[measures]]\nkey = "stand"\nname = "Stand"\nunit = "wibbles"\nevent = "x"\n')
    error = answer.error()
    assert (answer.code, error["kind"]) == (NOT_UNDERSTOOD, "not_understood"), answer.err
    assert "wibbles" in error["what"]
    assert error["place"].startswith("plan.toml, line 6"), error


def test_a_bare_number_where_a_unit_is_needed(station, tmp_path):
    text = 'format = "guardrow plan 1"\n\n[[question.claims]]\nstatement = "s"\nmeasure = "yield"\nmargin = "250"\n'
    answer = analysed(tmp_path, text)
    error = answer.error()
    assert (answer.code, error["kind"]) == (NOT_UNDERSTOOD, "not_understood"), answer.err
    assert "plan.toml, line" in error["place"], error
    assert error["try_this"]
    # The same plan through the pages' interface.
    folder, _ = station
    body = trial.plan()
    body["question"]["claims"][0]["margin"] = "250"
    before = dump(folder)
    with served(folder) as server:
        with pytest.raises(Refusal) as refusal:
            server.put(f"/api/trials/{CODE}/plan", {"plan": body, "expected_version": 1, "by": BY, "reason": "margin"})
        assert refusal.value.status in (400, 422), refusal.value
        assert "unit" in refusal.value.error["what"] + refusal.value.error["try_this"], refusal.value
    assert dump(folder) == before


def test_a_lot_on_hand_without_its_unit(station):
    folder, _ = station
    before = dump(folder)
    with served(folder) as server:
        with pytest.raises(Refusal) as refusal:
            server.put("/api/lots/OAT-2", {"lot": {**trial.LOT, "code": "OAT-2", "on_hand": "40"}, "by": BY, "reason": ""})
    assert refusal.value.status in (400, 422)
    assert "unit" in refusal.value.error["what"] + refusal.value.error["try_this"], refusal.value
    assert dump(folder) == before


def test_a_percentage_as_a_fraction_in_a_plan(station):
    folder, _ = station
    body = trial.plan()
    body["supply"]["emergence_pct"] = 0.85
    with served(folder) as server:
        remarks = server.post("/api/plan/check", body)["remarks"]
    found = [remark for remark in remarks if remark["place"] == "supply.emergence_pct"]
    assert len(found) == 1 and found[0]["weight"] == "warn", remarks
    assert "0.85 %" in found[0]["what"] and "85 %" in found[0]["try_this"]


def test_a_misspelt_level_in_a_table_laid_out_elsewhere(tmp_path):
    levels = "".join(f"{{ label = {json.dumps(label)} }}, " for label in ("straw", "clover", "mustard"))
    plan = (
        'format = "guardrow plan 1"\n[trial]\ncode = "X-1"\nseason = 2031\n'
        f'[[treatments.factors]]\nname = "cover"\nlevels = [{levels}]\n'
        '[arrangement]\nkind = "completely_random"\nreplicates = 2\n'
        '[[measures]]\nkey = "stand"\nname = "Stand"\nunit = "plants/m2"\nevent = "x"\n'
    )
    rows = ["straw,300", "clover,310", "musterd,290", "straw,305", "clover,315", "mustard,295"]
    answer = analysed(tmp_path, plan, "cover,stand\n" + "\n".join(rows) + "\n")
    assert answer.code == REFUSED, answer.err
    (remark,) = answer.error()["remarks"]
    assert "musterd" in remark["what"] and "did you mean “mustard”?" in remark["try_this"]
    assert "line 4" in remark["place"], remark
    assert answer.out == ""


# Workbooks and files -------------------------------------------------------------------------------------------------


def workbook(folder, code=CODE, event="Stand count"):
    answer = run_well("document", folder, code, "field-workbook", "--by", BY, "--event", event)
    return answer.out.strip()


def test_a_workbook_of_another_trial(station, tmp_path):
    folder, _ = station
    with served(folder) as server:
        trial.start(server, code="T-32", seed="43")
    made = shutil.copy(workbook(folder, "T-32"), tmp_path / "other.xlsx")
    refused(folder, made, REFUSED, "trial T-32, not of T-31", "other.xlsx")


def test_a_workbook_of_an_older_layout(station, tmp_path):
    folder, _ = station
    made = shutil.copy(workbook(folder), tmp_path / "older.xlsx")
    again = run("draw", folder, CODE, "--by", BY, "--seed", "77")
    assert again.code == CHANGED, again.err
    assert "reason" in again.err
    run_well("draw", folder, CODE, "--by", BY, "--seed", "77", "--reason", "stakes were lost")
    refused(folder, made, REFUSED, "layout version 1", "version 2", "older.xlsx")


def test_half_a_workbook(station, tmp_path):
    folder, _ = station
    with open(workbook(folder), "rb") as file:
        whole = file.read()
    for part in (len(whole) // 2, len(whole) - 40, 30):
        half = tmp_path / "half.xlsx"
        half.write_bytes(whole[:part])
        refused(folder, half, NOT_UNDERSTOOD, "half.xlsx")


def test_half_a_table(station, tmp_path):
    folder, plots = station
    first, second, *_ = plots
    file = csv(tmp_path, f"plot,stand,vigour\n{first},310,4\n{second},30")
    refused(folder, file, NOT_UNDERSTOOD, "line 3", "cut off")


def test_half_a_plan_file(station, tmp_path):
    folder, _ = station
    text = run_well("plan", folder, CODE).out
    answer = analysed(tmp_path, text[: text.index("[arrangement]") - 30])
    assert answer.code in (NOT_UNDERSTOOD, REFUSED), answer.err
    assert "plan" in answer.error()["place"] + answer.error()["what"]


@pytest.mark.parametrize("start", [b"", b"PK\x03\x04", b"plot,stand\n"], ids=["as it is", "as a workbook", "as a table"])
def test_fifty_megabytes_of_garbage(station, tmp_path, start):
    folder, _ = station
    file = tmp_path / "garbage.csv"
    file.write_bytes(start + random.Random(31).randbytes(50_000_000))
    with unchanged(folder):
        began = time.monotonic()
        answer = take_in(folder, file)
        took = time.monotonic() - began
    assert answer.code == NOT_UNDERSTOOD, answer.err
    assert "garbage.csv" in answer.err and "try:" in answer.err, answer.err
    assert len(answer.err) < 4000, "the garbage is not to be read aloud"
    assert took < 60, f"{took:.0f} s (debug build)"


def test_fifty_megabytes_of_text_that_is_no_table(station, tmp_path):
    folder, _ = station
    file = tmp_path / "letters.csv"
    letters = random.Random(32)
    line = "".join(letters.choice("abcdefghij ,;") for _ in range(9_999)) + "\n"
    file.write_text(line * 5_000)
    with unchanged(folder):
        answer = take_in(folder, file)
    assert answer.code in (NOT_UNDERSTOOD, REFUSED), answer.err[:2000]
    assert "letters.csv" in answer.err


def test_the_same_file_twice(station, tmp_path):
    folder, plots = station
    file = csv(tmp_path, "plot,stand\n" + "".join(f"{plot},310\n" for plot in plots))
    first = take_in(folder, file)
    assert first.code == 0, first.err
    with unchanged(folder):
        again = take_in(folder, file)
    assert again.code == REFUSED and "accepted before" in again.err, again.err
    assert count(folder, "SELECT count(*) FROM entry WHERE measure = 'stand'") == len(plots)


def test_what_is_not_there(station, tmp_path):
    folder, _ = station
    with unchanged(folder):
        missing = take_in(folder, tmp_path / "nowhere.csv")
        unknown = run("findings", folder, "T-99")
    assert missing.code == NOT_THERE and "nowhere.csv" in missing.err
    assert unknown.code == NOT_THERE and "T-99" in unknown.err
    no_station = run("trials", tmp_path / "no-station")
    assert no_station.code == NOT_THERE and "try:" in no_station.err


# The station itself --------------------------------------------------------------------------------------------------


def test_a_station_from_a_newer_version(station, tmp_path):
    folder, plots = station
    connection = sqlite3.connect(folder / "station.db")
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.execute(f"PRAGMA user_version = {version + 1}")
    connection.close()
    file = csv(tmp_path, f"plot,stand\n{next(iter(plots))},310\n")
    with unchanged(folder):
        for answer in (take_in(folder, file), run("trials", folder), run("serve", folder, "--port", "0")):
            assert answer.code == NEWER, f"exit {answer.code}\n{answer.err}"
            assert str(version + 1) in answer.err and "newer" in answer.err.lower(), answer.err


def test_a_second_process_on_the_same_station(station, tmp_path):
    folder, plots = station
    plot = next(iter(plots))
    file = csv(tmp_path, f"plot,stand\n{plot},310\n")
    before = dump(folder)
    with served(folder) as server:
        for answer in (take_in(folder, file), run("serve", folder, "--port", "0")):
            assert answer.code == IN_USE, f"exit {answer.code}\n{answer.err}"
            assert "try:" in answer.err, answer.err
        # The first one goes on as if nothing had happened.
        value = {"plot": plot, "measure": "stand", "text": "310", "replaces": None, "reason": ""}
        server.post(f"/api/trials/{CODE}/observations", {"by": BY, "observed_on": None, "values": [value]})
    assert dump(folder) != before
    assert count(folder, "SELECT count(*) FROM entry WHERE measure = 'stand'") == 1
    # When it has ended, the station is free again.
    assert run("trials", folder).code == 0


@contextmanager
def small_disk(folder, kilobytes):
    """A disk of its own of this size; needs root."""
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder)], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def can_mount(folder):
    if os.geteuid() != 0:
        return False
    try:
        with small_disk(folder, 64):
            return True
    except (OSError, subprocess.CalledProcessError):
        return False


def test_a_full_disk_while_a_file_is_taken_in(drawn, tmp_path):
    if not can_mount(tmp_path / "try"):
        warnings.warn("NOT TESTED: a full disk; a small disk of its own can be mounted by root only", stacklevel=1)
        pytest.skip("only root can mount the small disk that this needs")
    source, plots = drawn
    measures = ["stand", "vigour", "weeds", "cover_pct", "straw_mass", "harvest_mass", "harvest_moisture"]
    values = ["310.25", "4", "17", "55.5", "2.125", "3.75", "14.5"]
    rows = "".join(f"{plot},{','.join(values)}\n" for plot in plots)
    file = csv(tmp_path, f"plot,{','.join(measures)}\n{rows}")
    used = sum(path.stat().st_size for path in source.rglob("*") if path.is_file())
    with small_disk(tmp_path / "disk", used // 1024 + 512) as disk:
        folder = shutil.copytree(source, disk / "station")
        # Opened once and closed: what opening itself needs is there, and the log is folded in.
        run_well("trials", folder)
        before = dump(folder)
        ballast = disk / "ballast"
        refusals = 0
        # From a disk without a single free page to one with room for opening but not for the values.
        for spare in range(0, 200 * 1024, 8 * 1024):
            fill(ballast, disk, spare)
            answer = take_in(folder, file)
            if answer.code == 0:
                break
            refusals += 1
            assert answer.code == NO_ROOM, f"exit {answer.code}\n{answer.err}"
            assert "try:" in answer.err and ("full" in answer.err or "space" in answer.err), answer.err
            ballast.unlink()
            assert dump(folder) == before, f"with {spare} bytes to spare something was half done"
        else:
            pytest.fail("the disk never had room enough")
        assert refusals > 0, "the disk was never full"
        ballast.unlink()
        assert count(folder, "SELECT count(*) FROM entry WHERE kind = 'observation'") == len(plots) * len(measures)
        assert run_well("check", folder).out.startswith("The records of the station are sound")


def fill(ballast, disk, spare):
    """Writes the disk full, but for `spare` bytes."""
    ballast.unlink(missing_ok=True)
    statistics = os.statvfs(disk)
    free = statistics.f_bavail * statistics.f_frsize
    with open(ballast, "wb") as file:
        try:
            file.write(b"\0" * max(0, free - spare))
        except OSError as full:
            assert spare == 0, full
