-- +goose Up

-- One row, counted up by every change: whoever writes takes it first, so that
-- numbers are given in the order in which changes come to be seen.
CREATE TABLE counter (
    one BIGINT PRIMARY KEY CHECK (one = 1),
    seq BIGINT NOT NULL
);
INSERT INTO counter (one, seq) VALUES (1, 0);

-- Every revision of every record. Rows are added, never changed.
CREATE TABLE revision (
    seq      BIGINT PRIMARY KEY,
    kind     TEXT NOT NULL,
    id       TEXT NOT NULL,
    rev      BIGINT NOT NULL CHECK (rev >= 1),
    job_id   TEXT NOT NULL,
    made     BIGINT NOT NULL, -- ms since 1970 UTC
    initials TEXT NOT NULL,
    binned   BOOLEAN NOT NULL,
    body     TEXT NOT NULL,   -- JSON
    UNIQUE (kind, id, rev)
);

-- Which revision is the newest, and what lists are made by.
CREATE TABLE record (
    kind   TEXT NOT NULL,
    id     TEXT NOT NULL,
    seq    BIGINT NOT NULL UNIQUE REFERENCES revision (seq),
    job_id TEXT NOT NULL,
    binned BOOLEAN NOT NULL,
    texts  TEXT NOT NULL,     -- of the body, folded, one a line
    PRIMARY KEY (kind, id)
);
CREATE INDEX record_by_job ON record (kind, job_id, binned, seq);

-- Bytes as they came, cut into pieces. An upload without a row in blob was broken
-- off.
CREATE TABLE blob (
    id         TEXT PRIMARY KEY, -- SHA-256 of the bytes, in hexadecimal
    upload     TEXT NOT NULL UNIQUE,
    name       TEXT NOT NULL,
    media_type TEXT NOT NULL,
    size       BIGINT NOT NULL,
    pieces     BIGINT NOT NULL
);
CREATE TABLE piece (
    upload TEXT NOT NULL,
    n      BIGINT NOT NULL,   -- 0, 1, 2, ...
    packed TEXT NOT NULL CHECK (packed IN ('', 'flate')),
    data   ${BLOB} NOT NULL,
    PRIMARY KEY (upload, n)
);

-- What an estimator's version made of a test; can be worked out again.
CREATE TABLE result (
    test_id TEXT NOT NULL,
    version TEXT NOT NULL,
    body    TEXT NOT NULL,    -- JSON
    PRIMARY KEY (test_id, version)
);

-- +goose Down
DROP TABLE result;
DROP TABLE piece;
DROP TABLE blob;
DROP TABLE record;
DROP TABLE revision;
DROP TABLE counter;
