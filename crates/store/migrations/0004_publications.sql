-- What was published, from which inputs.

CREATE TABLE publication (
    id       BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    trial_id BLOB REFERENCES trial (id),
    kind     TEXT NOT NULL CHECK (trim(kind) <> ''),
    file     TEXT NOT NULL CHECK (trim(file) <> ''),
    sha256   TEXT NOT NULL CHECK (length(sha256) = 64),
    made_at  TEXT NOT NULL CHECK (length(made_at) = 30),
    by_whom  TEXT NOT NULL CHECK (trim(by_whom) <> ''),
    inputs   TEXT NOT NULL CHECK (json_valid(inputs))
) STRICT;
CREATE INDEX publication_by_trial ON publication (trial_id);

CREATE TRIGGER publication_no_update BEFORE UPDATE ON publication BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER publication_no_delete BEFORE DELETE ON publication BEGIN SELECT RAISE(ABORT, 'append-only'); END;
