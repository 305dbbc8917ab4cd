"""The data package as an independent reader sees it (frictionless), and against the journal that it came from."""

import csv
import json
import shutil
import zipfile
import sqlite3
import uuid

import pytest
from frictionless import Package, validate

from program import run_well


def trials(demo, stage):
    view = run_well("trials", demo, "--json").json()
    return [line["code"] for line in view["trials"] if line["stage"] == stage]


@pytest.fixture(scope="module")
def packages(demo, tmp_path_factory):
    """The package of every finished trial of the invented station, as it comes out of the file that is handed on."""
    codes = trials(demo, "observed")
    assert len(codes) >= 2
    opened = {}
    for code in codes:
        folder = tmp_path_factory.mktemp(code)
        with zipfile.ZipFile(demo / "publications" / f"{code}-data.zip") as archive:
            assert archive.testzip() is None
            archive.extractall(folder)
        (opened[code],) = folder.rglob("datapackage.json")
    return opened


def problems(report):
    return [(task.name, error.type, error.message) for task in report.tasks for error in task.errors] + report.errors


def test_every_package_is_valid(packages):
    for code, file in packages.items():
        report = validate(str(file))
        assert report.valid, f"{code}: {problems(report)[:5]}"
        tables = {task.name: task.stats["rows"] for task in report.tasks if "rows" in task.stats}
        for name in ("treatments", "plots", "measures", "observations", "yields"):
            assert tables.get(name, 0) > 0, f"{code}: {name} in {tables}"


def test_plots_are_tied_to_observations_by_foreign_keys(packages):
    for file in packages.values():
        package = Package(str(file))
        keys = {key["fields"][0]: key["reference"] for key in package.get_resource("observations").schema.foreign_keys}
        assert keys["plot"] == {"resource": "plots", "fields": ["plot"]}


def test_an_observation_of_an_unknown_plot_is_found(packages, tmp_path):
    # The validator does look: one plot number is changed to one that is not there.
    file = next(iter(packages.values()))
    copy = shutil.copytree(file.parent, tmp_path / "package")
    descriptor = json.loads((copy / "datapackage.json").read_text())
    resource = next(one for one in descriptor["resources"] if one["name"] == "observations")
    table = copy / resource["path"]
    with open(table, newline="") as opened:
        rows = list(csv.DictReader(opened))
    rows[0]["plot"] = "9999"
    with open(table, "w", newline="") as opened:
        writer = csv.DictWriter(opened, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    resource.pop("hash")
    resource.pop("bytes")
    (copy / "datapackage.json").write_text(json.dumps(descriptor))
    report = validate(str(copy / "datapackage.json"))
    assert not report.valid
    assert {error.type for task in report.tasks for error in task.errors} == {"foreign-key"}


def test_units_stand_with_the_measures(packages):
    for code, file in packages.items():
        measures = Package(str(file)).get_resource("measures").read_rows()
        assert all(row["unit"] for row in measures), code
        keys = {row["measure"] for row in measures}
        observed = {row["measure"] for row in Package(str(file)).get_resource("observations").read_rows()}
        assert observed <= keys, code


def test_every_entry_of_the_journal_is_in_the_package_as_it_is(demo, packages):
    connection = sqlite3.connect(f"file:{demo / 'station.db'}?mode=ro", uri=True)
    connection.row_factory = sqlite3.Row
    for code, file in packages.items():
        entries = {
            str(uuid.UUID(bytes=row["id"])): row
            for row in connection.execute(
                "SELECT entry.* FROM entry JOIN trial ON trial.id = entry.trial_id "
                "WHERE trial.code = ? AND entry.kind = 'observation'",
                (code,),
            )
        }
        rows = Package(str(file)).get_resource("observations").read_rows()
        assert len(rows) == len(entries) > 0, code
        replaced = {str(uuid.UUID(bytes=row["replaces"])) for row in entries.values() if row["replaces"]}
        for row in rows:
            entry = entries[row["entry"]]
            assert row["plot"] == entry["plot_number"]
            assert row["measure"] == entry["measure"]
            assert row["status"] == entry["status"]
            assert (None if row["value"] is None else float(row["value"])) == entry["number"]
            assert row["unit"] == entry["unit"]
            assert row["reason"] == entry["reason"]
            assert row["current"] == (row["entry"] not in replaced)
    connection.close()


def test_the_plan_goes_with_it(demo, packages):
    for code, file in packages.items():
        assert (file.parent / "plan.toml").read_text() == run_well("plan", demo, code).out
