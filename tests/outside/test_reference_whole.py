"""Every published case is compared, and docs/numbers/published-trials.md tells of each; runs after the other test_reference files."""

import pytest

import ledger
import published_table
from published_table import ENGINE, PARTLY, published


def test_every_published_case_has_its_row():
    outside, engine = published_table.rows_of_page()
    assert not outside.keys() & engine.keys()
    assert {*outside, *engine} == published().keys(), "make the tables anew: see tests/outside/published_table.py"
    assert engine.keys() <= ENGINE.keys()
    assert PARTLY.keys() <= outside.keys()


def test_the_page_tells_what_this_run_compared():
    outside, _ = published_table.rows_of_page()
    if ledger.records.keys() & published().keys() != outside.keys():
        pytest.skip("only a run of all test_reference files can tell")
    for case, cells in outside.items():
        record = ledger.records[case]
        assert int(cells[3]) == record.closed + record.iterated, f"{case}: make the tables anew"
        for told, found in ((cells[4], record.closed_off), (cells[5], record.iterated_off)):
            # Rounding differs a little from machine to machine.
            least = 0.0 if told in ("-", "none") else float(told)
            assert found <= 30 * least + 1e-14, f"{case}: off by {found}, where the page says {told}"
        assert record.nearest <= 1.0, record.nearest_what
