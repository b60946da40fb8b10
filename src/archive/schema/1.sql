-- The index of an archive, first schema. Times are UTC, RFC 3339, whole seconds.
CREATE TABLE about (
    key TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE session (
    id TEXT PRIMARY KEY,
    person TEXT NOT NULL,
    recorded_at TEXT NOT NULL,
    recorded_from TEXT NOT NULL CHECK (recorded_from IN ('told', 'clip', 'added')),
    added_at TEXT NOT NULL,
    rung TEXT NOT NULL,
    leg TEXT,
    summary TEXT NOT NULL
) STRICT;
CREATE INDEX session_of_person ON session (person, recorded_at);
-- So that sessions of one day are found without reading the summaries.
CREATE INDEX session_of_day ON session (person, rung, leg, recorded_at, recorded_from);

CREATE TABLE file (
    session TEXT NOT NULL REFERENCES session (id) ON DELETE CASCADE,
    name TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    size INTEGER NOT NULL,
    PRIMARY KEY (session, name)
) STRICT, WITHOUT ROWID;
CREATE INDEX file_by_content ON file (sha256);

-- Objects about to be put in place or removed.
CREATE TABLE unfinished (
    sha256 TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

CREATE TABLE erased (
    code_sha256 TEXT NOT NULL,
    at TEXT NOT NULL,
    sessions INTEGER NOT NULL,
    files INTEGER NOT NULL
) STRICT;
