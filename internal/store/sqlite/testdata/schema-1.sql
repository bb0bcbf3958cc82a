-- A file as this version of the schema kept it. Never change it.
CREATE TABLE goose_db_version (
		id INTEGER PRIMARY KEY AUTOINCREMENT,
		version_id INTEGER NOT NULL,
		is_applied INTEGER NOT NULL,
		tstamp TIMESTAMP DEFAULT (datetime('now'))
	);
CREATE TABLE counter (
    one BIGINT PRIMARY KEY CHECK (one = 1),
    seq BIGINT NOT NULL
);
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
CREATE TABLE record (
    kind   TEXT NOT NULL,
    id     TEXT NOT NULL,
    seq    BIGINT NOT NULL UNIQUE REFERENCES revision (seq),
    job_id TEXT NOT NULL,
    binned BOOLEAN NOT NULL,
    texts  TEXT NOT NULL,     -- of the body, folded, one a line
    PRIMARY KEY (kind, id)
);
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
    data   BLOB NOT NULL,
    PRIMARY KEY (upload, n)
);
CREATE TABLE result (
    test_id TEXT NOT NULL,
    version TEXT NOT NULL,
    body    TEXT NOT NULL,    -- JSON
    PRIMARY KEY (test_id, version)
);
CREATE INDEX record_by_job ON record (kind, job_id, binned, seq);
INSERT INTO goose_db_version (id, version_id, is_applied, tstamp) VALUES (1, 0, 1, '2026-11-25 20:08:54 +0000 UTC');
INSERT INTO goose_db_version (id, version_id, is_applied, tstamp) VALUES (2, 1, 1, '2026-11-25 20:08:54 +0000 UTC');
INSERT INTO counter (one, seq) VALUES (1, 3);
INSERT INTO revision (seq, kind, id, rev, job_id, made, initials, binned, body) VALUES (1, 'job', 'j', 1, 'j', 1700000000123, 'M.K.', 0, '{"title":"Öl''s 100%"}');
INSERT INTO revision (seq, kind, id, rev, job_id, made, initials, binned, body) VALUES (2, 'test', 't', 1, '', -1, '', 0, '[1e-9, null]');
INSERT INTO revision (seq, kind, id, rev, job_id, made, initials, binned, body) VALUES (3, 'test', 't', 2, 'j', 2, 'J.L.', 1, '[2]');
INSERT INTO record (kind, id, seq, job_id, binned, texts) VALUES ('job', 'j', 1, 'j', 0, 'ÖL''S 100%
');
INSERT INTO record (kind, id, seq, job_id, binned, texts) VALUES ('test', 't', 3, 'j', 1, '');
INSERT INTO blob (id, upload, name, media_type, size, pieces) VALUES ('cdd19c01e9c9970dfcb32f1a3ea922d1b05c32037effd26b9af3b274c3bec020', 'POZYS4Y6ZOBMR4NMH4E3YIMFZQ', 'a.csv', 'text/csv', 450, 1);
INSERT INTO blob (id, upload, name, media_type, size, pieces) VALUES ('06eb7d6a69ee19e5fbdf749018d3d2abfa04bcbd1365db312eb86dc7169389b8', 'OC4VIZDLQ5LUNQUF6BVNLTZOPK', 'short', '', 2, 1);
INSERT INTO piece (upload, n, packed, data) VALUES ('POZYS4Y6ZOBMR4NMH4E3YIMFZQ', 0, 'flate', x'ecd0b10980301404d0fe66398efb01ff1c6e10825888a432717ed7b048ffaa37ae7ed6876f3be6ecf5de1b2c338b02d6c60c192133ad82b1f0ff36be000000ffff');
INSERT INTO piece (upload, n, packed, data) VALUES ('OC4VIZDLQ5LUNQUF6BVNLTZOPK', 0, '', x'00ff');
INSERT INTO result (test_id, version, body) VALUES ('t', '1', '{"flow":1}');
