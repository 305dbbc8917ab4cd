-- The station, its trials, their plans and their layouts.
-- Moments are text in one fixed form, UTC with nine decimals of a second, so that sorting the text sorts the time.
-- Every table is append-only: the triggers at the end refuse UPDATE and DELETE.

CREATE TABLE station_info (
    seq         INTEGER PRIMARY KEY AUTOINCREMENT,
    key         TEXT NOT NULL CHECK (trim(key) <> ''),
    value       TEXT NOT NULL CHECK (json_valid(value)),
    recorded_at TEXT NOT NULL CHECK (length(recorded_at) = 30),
    by_whom     TEXT NOT NULL CHECK (trim(by_whom) <> '')
) STRICT;
CREATE INDEX station_info_by_key ON station_info (key, seq);

CREATE TABLE trial (
    id         BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    code       TEXT NOT NULL COLLATE NOCASE UNIQUE CHECK (trim(code) <> ''),
    created_at TEXT NOT NULL CHECK (length(created_at) = 30),
    by_whom    TEXT NOT NULL CHECK (trim(by_whom) <> '')
) STRICT;

CREATE TABLE plan (
    trial_id    BLOB NOT NULL REFERENCES trial (id),
    version     INTEGER NOT NULL CHECK (version >= 1),
    body        TEXT NOT NULL CHECK (json_valid(body)),
    recorded_at TEXT NOT NULL CHECK (length(recorded_at) = 30),
    by_whom     TEXT NOT NULL CHECK (trim(by_whom) <> ''),
    reason      TEXT,
    PRIMARY KEY (trial_id, version)
) STRICT;

CREATE TABLE layout (
    id           BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    trial_id     BLOB NOT NULL REFERENCES trial (id),
    version      INTEGER NOT NULL CHECK (version >= 1),
    plan_version INTEGER NOT NULL,
    body         TEXT NOT NULL CHECK (json_valid(body)),
    seed         TEXT,     -- as it is printed; empty when laid out elsewhere
    algorithm    TEXT NOT NULL,
    drawn_at     TEXT NOT NULL CHECK (length(drawn_at) = 30),
    by_whom      TEXT NOT NULL CHECK (trim(by_whom) <> ''),
    reason       TEXT,
    UNIQUE (trial_id, version),
    FOREIGN KEY (trial_id, plan_version) REFERENCES plan (trial_id, version)
) STRICT;

CREATE TABLE layout_lock (
    seq       INTEGER PRIMARY KEY AUTOINCREMENT,
    layout_id BLOB NOT NULL REFERENCES layout (id),
    what      TEXT NOT NULL CHECK (trim(what) <> ''),
    locked_at TEXT NOT NULL CHECK (length(locked_at) = 30),
    by_whom   TEXT NOT NULL CHECK (trim(by_whom) <> '')
) STRICT;
CREATE INDEX layout_lock_by_layout ON layout_lock (layout_id);

-- A guard plot may have no number; a plot laid out elsewhere may have no known place.
CREATE TABLE plot (
    seq        INTEGER PRIMARY KEY AUTOINCREMENT,
    layout_id  BLOB NOT NULL REFERENCES layout (id),
    number     INTEGER,
    replicate  INTEGER,
    main_plot  INTEGER,
    "range"    INTEGER,
    pass       INTEGER,
    treatment  TEXT,
    kind       TEXT NOT NULL CHECK (trim(kind) <> ''),
    UNIQUE (layout_id, number),
    UNIQUE (layout_id, "range", pass)
) STRICT;

CREATE TRIGGER station_info_no_update BEFORE UPDATE ON station_info BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER station_info_no_delete BEFORE DELETE ON station_info BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER trial_no_update BEFORE UPDATE ON trial BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER trial_no_delete BEFORE DELETE ON trial BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER plan_no_update BEFORE UPDATE ON plan BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER plan_no_delete BEFORE DELETE ON plan BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER layout_no_update BEFORE UPDATE ON layout BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER layout_no_delete BEFORE DELETE ON layout BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER layout_lock_no_update BEFORE UPDATE ON layout_lock BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER layout_lock_no_delete BEFORE DELETE ON layout_lock BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER plot_no_update BEFORE UPDATE ON plot BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER plot_no_delete BEFORE DELETE ON plot BEGIN SELECT RAISE(ABORT, 'append-only'); END;
