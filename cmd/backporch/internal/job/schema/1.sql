-- Times are microseconds since 1970, UTC. Text that was not given is '', figures that were
-- not measured are NULL.

CREATE TABLE board (
  id    INTEGER PRIMARY KEY,
  uid   TEXT NOT NULL UNIQUE,
  name  TEXT NOT NULL UNIQUE COLLATE NOCASE,
  donor INTEGER NOT NULL DEFAULT 0     -- a machine known good, kept to lend parts
) STRICT;

CREATE TABLE job (
  id        INTEGER PRIMARY KEY AUTOINCREMENT,
  uid       TEXT NOT NULL UNIQUE,
  board     INTEGER NOT NULL REFERENCES board,
  machine   TEXT NOT NULL,
  tag       TEXT NOT NULL,
  issue     TEXT NOT NULL,             -- of the board
  complaint TEXT NOT NULL,             -- the owner's words
  state     TEXT NOT NULL CHECK (state IN ('open', 'waiting', 'closed')),
  outcome   TEXT NOT NULL DEFAULT '',
  opened    INTEGER NOT NULL,
  -- For the list at a glance; kept by the triggers below.
  changed   INTEGER NOT NULL,
  judged    INTEGER,                   -- entry of the last verdict
  class     TEXT,
  confidence REAL,
  summary   TEXT,
  pictured  INTEGER,                   -- time of the last picture
  stills    INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX job_state ON job (state, changed);
CREATE INDEX job_board ON job (board);

CREATE TABLE entry (
  id      INTEGER PRIMARY KEY AUTOINCREMENT,
  job     INTEGER NOT NULL REFERENCES job,
  at      INTEGER NOT NULL,
  kind    TEXT NOT NULL,
  command TEXT NOT NULL DEFAULT '',
  text    TEXT NOT NULL DEFAULT '',
  source  TEXT NOT NULL DEFAULT '',
  device  TEXT NOT NULL DEFAULT '',
  display TEXT NOT NULL DEFAULT '',
  body    TEXT                         -- JSON: what has no column of its own
) STRICT;
CREATE INDEX entry_job ON entry (job, id);

CREATE TABLE verdict (
  entry      INTEGER PRIMARY KEY REFERENCES entry,
  class      TEXT NOT NULL,
  confidence REAL,
  kind       TEXT NOT NULL,
  part       TEXT NOT NULL,
  summary    TEXT NOT NULL,
  report     TEXT                      -- JSON as the command printed it
) STRICT;

CREATE TABLE still (
  id     INTEGER PRIMARY KEY,
  entry  INTEGER NOT NULL REFERENCES entry,
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64),
  ending TEXT NOT NULL,                -- of the file's name, with its dot
  bytes  INTEGER NOT NULL,
  role   TEXT NOT NULL CHECK (role IN ('before', 'during', 'after', '')),
  marked INTEGER NOT NULL,             -- an annotated copy
  name   TEXT NOT NULL,                -- of the file it was taken from
  note   TEXT NOT NULL
) STRICT;
CREATE INDEX still_entry ON still (entry);
CREATE INDEX still_sha256 ON still (sha256);

CREATE TABLE measure (
  entry INTEGER NOT NULL REFERENCES entry,
  place INTEGER NOT NULL,              -- the order in which they were given
  name  TEXT NOT NULL,
  value REAL,
  unit  TEXT NOT NULL,
  note  TEXT NOT NULL,
  PRIMARY KEY (entry, place)
) STRICT, WITHOUT ROWID;

CREATE TABLE part (
  id        INTEGER PRIMARY KEY,
  uid       TEXT NOT NULL UNIQUE,
  name      TEXT NOT NULL UNIQUE COLLATE NOCASE,
  type      TEXT NOT NULL,             -- what it is, in words
  condition TEXT NOT NULL CHECK (condition IN ('good', 'bad', 'suspect', 'unknown')),
  reason    TEXT NOT NULL,
  board     INTEGER REFERENCES board,  -- where it sat first; NULL: from stock
  position  TEXT,
  marked    INTEGER                    -- job in which its condition was last stated
) STRICT;

CREATE TABLE placement (
  id       INTEGER PRIMARY KEY,
  part     INTEGER NOT NULL REFERENCES part,
  board    INTEGER NOT NULL REFERENCES board,
  position TEXT NOT NULL COLLATE NOCASE,
  since    INTEGER NOT NULL,           -- entry that fitted it; 0: since before the first
  until    INTEGER REFERENCES entry    -- entry that pulled it; NULL: it is there
) STRICT;
CREATE UNIQUE INDEX placement_position ON placement (board, position) WHERE until IS NULL;
CREATE UNIQUE INDEX placement_part ON placement (part) WHERE until IS NULL;
CREATE INDEX placement_board ON placement (board, since);

CREATE TABLE fingerprint (
  job    INTEGER NOT NULL REFERENCES job,
  device TEXT NOT NULL,
  at     INTEGER NOT NULL,
  body   TEXT NOT NULL,                -- JSON
  PRIMARY KEY (job, device)
) STRICT, WITHOUT ROWID;
CREATE INDEX fingerprint_device ON fingerprint (device);

-- Words of each entry, for searching; its rowid is the entry's id.
CREATE VIRTUAL TABLE words USING fts5 (said, content='', tokenize='unicode61');

CREATE TRIGGER entry_changes AFTER INSERT ON entry BEGIN
  UPDATE job SET changed = max(changed, new.at) WHERE id = new.job;
END;
CREATE TRIGGER verdict_judges AFTER INSERT ON verdict BEGIN
  UPDATE job SET judged = new.entry, class = new.class, confidence = new.confidence, summary = new.summary
    WHERE id = (SELECT job FROM entry WHERE id = new.entry);
END;
CREATE TRIGGER still_pictures AFTER INSERT ON still BEGIN
  UPDATE job SET stills = stills + 1,
    pictured = max(coalesce(pictured, 0), (SELECT at FROM entry WHERE id = new.entry))
    WHERE id = (SELECT job FROM entry WHERE id = new.entry);
END;
