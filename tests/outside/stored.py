"""What a station holds, read without Guardrow: the database by SQLite itself, and the files of its folder."""

import hashlib
import shutil
import sqlite3
import tempfile
from pathlib import Path


def dump(station):
    """Every row of every table, and the digest of every other file; two equal dumps hold the same."""
    with tempfile.TemporaryDirectory() as folder:
        # A copy with its write-ahead log, so that looking never changes what is looked at.
        for name in ("station.db", "station.db-wal"):
            if (Path(station) / name).exists():
                shutil.copy(Path(station) / name, folder)
        connection = sqlite3.connect(Path(folder) / "station.db")
        try:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
            rows = list(connection.iterdump())
        finally:
            connection.close()
    beside = {"station.db", "station.db-wal", "station.db-shm", "lock"}
    files = {
        str(path.relative_to(station)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(Path(station).rglob("*"))
        if path.is_file() and path.name not in beside
    }
    return rows, files


def count(station, query, *values):
    """One number out of the database."""
    connection = sqlite3.connect(f"file:{Path(station) / 'station.db'}?mode=ro", uri=True)
    try:
        return connection.execute(query, values).fetchone()[0]
    finally:
        connection.close()
