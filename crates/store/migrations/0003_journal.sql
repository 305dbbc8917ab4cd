-- The journal: what persons observed and did, and the files that it came in.

CREATE TABLE intake (
    id            BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    trial_id      BLOB REFERENCES trial (id),
    file_name     TEXT NOT NULL CHECK (trim(file_name) <> ''),
    sha256        TEXT NOT NULL CHECK (length(sha256) = 64),
    bytes         INTEGER NOT NULL CHECK (bytes >= 0),
    rows          INTEGER NOT NULL CHECK (rows >= 0),
    accepted_at   TEXT NOT NULL CHECK (length(accepted_at) = 30),
    by_whom       TEXT NOT NULL CHECK (trim(by_whom) <> ''),
    repeat_reason TEXT CHECK (repeat_reason IS NULL OR trim(repeat_reason) <> '')
) STRICT;
CREATE INDEX intake_by_hash ON intake (sha256);

-- `seq` is the order in which the station accepted the entries. It never changes, whatever the clocks said.
CREATE TABLE entry (
    seq            INTEGER PRIMARY KEY AUTOINCREMENT,
    id             BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    trial_id       BLOB NOT NULL REFERENCES trial (id),
    kind           TEXT NOT NULL CHECK (trim(kind) <> ''),
    layout_version INTEGER,
    plot_number    INTEGER,
    subsample      INTEGER,
    measure        TEXT CHECK (measure IS NULL OR trim(measure) <> ''),
    occasion       TEXT,
    status         TEXT NOT NULL CHECK (status IN ('value', 'not_seen', 'lost', 'not_applicable', 'not_yet')),
    number         REAL,
    text           TEXT,
    unit           TEXT,
    body           TEXT CHECK (body IS NULL OR json_valid(body)),
    remark         TEXT,
    observed_at    TEXT CHECK (observed_at IS NULL OR length(observed_at) IN (10, 30)),
    recorded_at    TEXT NOT NULL CHECK (length(recorded_at) = 30),
    by_whom        TEXT NOT NULL CHECK (trim(by_whom) <> ''),
    source_kind    TEXT NOT NULL CHECK (trim(source_kind) <> ''),
    source_file    TEXT,
    source_sheet   TEXT,
    source_line    INTEGER,
    intake_id      BLOB REFERENCES intake (id),
    replaces       BLOB REFERENCES entry (id),
    reason         TEXT,
    FOREIGN KEY (trial_id, layout_version) REFERENCES layout (trial_id, version),
    -- an empty has no value; a value has one
    CHECK (status = 'value' OR (number IS NULL AND text IS NULL)),
    CHECK (status <> 'value' OR number IS NOT NULL OR text IS NOT NULL OR body IS NOT NULL),
    -- a correction says why, and never corrects itself
    CHECK (replaces IS NULL OR (reason IS NOT NULL AND trim(reason) <> '' AND replaces <> id)),
    -- a withdrawal takes back one entry and puts nothing in its place
    CHECK (kind <> 'withdrawal' OR (replaces IS NOT NULL AND status = 'not_applicable'))
) STRICT;
CREATE INDEX entry_by_measure ON entry (trial_id, measure, plot_number);
CREATE INDEX entry_by_replaced ON entry (replaces) WHERE replaces IS NOT NULL;

CREATE TRIGGER intake_no_update BEFORE UPDATE ON intake BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER intake_no_delete BEFORE DELETE ON intake BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'append-only'); END;
