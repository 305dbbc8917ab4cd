-- Lots: one bag or batch each, with every version of its papers.

CREATE TABLE lot (
    id         BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    code       TEXT NOT NULL COLLATE NOCASE UNIQUE CHECK (trim(code) <> ''),
    created_at TEXT NOT NULL CHECK (length(created_at) = 30),
    by_whom    TEXT NOT NULL CHECK (trim(by_whom) <> '')
) STRICT;

CREATE TABLE lot_version (
    lot_id      BLOB NOT NULL REFERENCES lot (id),
    version     INTEGER NOT NULL CHECK (version >= 1),
    body        TEXT NOT NULL CHECK (json_valid(body)),
    recorded_at TEXT NOT NULL CHECK (length(recorded_at) = 30),
    by_whom     TEXT NOT NULL CHECK (trim(by_whom) <> ''),
    reason      TEXT,
    PRIMARY KEY (lot_id, version)
) STRICT;

CREATE TRIGGER lot_no_update BEFORE UPDATE ON lot BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER lot_no_delete BEFORE DELETE ON lot BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER lot_version_no_update BEFORE UPDATE ON lot_version BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER lot_version_no_delete BEFORE DELETE ON lot_version BEGIN SELECT RAISE(ABORT, 'append-only'); END;
