"""Stations that the tests work on."""

import os
import shutil
from pathlib import Path

import pytest

import ledger
import trial
from program import BINARY, run_well, served


def pytest_configure(config):
    if not BINARY.exists():
        pytest.exit(f"{BINARY} is not there; build it first: cargo build -p guardrow-cli", returncode=4)


def output_folder():
    folder = Path(os.environ.get("TEST_OUTPUT", Path(__file__).parents[2] / "test-output")) / "outside"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def pytest_sessionfinish():
    ledger.write(output_folder() / "published-trials.json")


@pytest.fixture(autouse=True)
def no_case():
    """A comparison belongs to the case that its own test began."""
    ledger.begin(None)


@pytest.fixture(scope="session")
def output():
    """Where what was made is kept for a person to look at."""
    return output_folder()


@pytest.fixture(scope="session")
def demo(output):
    """The invented station, made once; tests only look at it."""
    folder = output / "demo-station"
    shutil.rmtree(folder, ignore_errors=True)
    run_well("demo", folder, "--no-browser", "--no-serve")
    return folder


@pytest.fixture(scope="session")
def drawn(tmp_path_factory):
    """A station with one trial whose layout is drawn; and its plots with their treatments."""
    folder = tmp_path_factory.mktemp("drawn") / "station"
    run_well("new", folder, "--name", "Hollow Fen")
    with served(folder) as server:
        layout = trial.start(server)
    return folder, trial.plots(layout)


@pytest.fixture
def station(drawn, tmp_path):
    """A copy of that station for one test to write into."""
    folder, plots = drawn
    shutil.copytree(folder, tmp_path / "station")
    return tmp_path / "station", plots
