-- Schema 1 of the rack file. Never edited once released: a change is the next file.
-- Lengths are millimetres, areas square millimetres, angles degrees counter-clockwise, times
-- RFC 3339 with the shop's offset, days YYYY-MM-DD. Rings are JSON: [[x, y], ...], voids and flaws
-- lists of rings.

-- What may be said of a remnant. A table, not a CHECK, so that a later schema adds a row.
CREATE TABLE states (
    state   TEXT PRIMARY KEY NOT NULL,
    meaning TEXT NOT NULL
) STRICT;
INSERT INTO states (state, meaning) VALUES
    ('on-rack', 'on the rack, free to be cut'),
    ('cut', 'used up by a booking'),
    ('retired', 'taken off the rack by hand; the event says why');

CREATE TABLE remnants (
    id         TEXT PRIMARY KEY NOT NULL COLLATE NOCASE CHECK (trim(id) <> ''),
    material   TEXT NOT NULL CHECK (trim(material) <> ''),
    outline    TEXT NOT NULL CHECK (json_valid(outline) AND json_array_length(outline) >= 3),
    voids      TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(voids)),
    flaws      TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(flaws)),
    -- Area less voids and size of the bounding rectangle, from the rings, for searching.
    area       REAL NOT NULL CHECK (area > 0),
    length     REAL NOT NULL CHECK (length > 0),
    width      REAL NOT NULL CHECK (width > 0),
    lot        TEXT,
    grain_deg  REAL,
    good_faces INTEGER NOT NULL CHECK (good_faces BETWEEN 0 AND 2),
    place      TEXT,
    logged     TEXT,
    origin     TEXT,
    note       TEXT,
    value      REAL CHECK (value IS NULL OR value >= 0),
    state      TEXT NOT NULL REFERENCES states (state)
) STRICT;
CREATE INDEX remnants_by_state ON remnants (state, material);

CREATE TABLE sheets (
    id       TEXT PRIMARY KEY NOT NULL CHECK (trim(id) <> ''),
    material TEXT NOT NULL CHECK (trim(material) <> ''),
    length   REAL NOT NULL CHECK (length > 0),
    width    REAL NOT NULL CHECK (width > 0),
    -- How many there are; NULL when they are not counted.
    stock    INTEGER CHECK (stock IS NULL OR stock >= 0),
    lot      TEXT,
    place    TEXT
) STRICT;

CREATE TABLE bookings (
    number    INTEGER PRIMARY KEY,
    digest    TEXT NOT NULL CHECK (length(digest) = 64 AND digest NOT GLOB '*[^0-9a-f]*'),
    name      TEXT,
    booked    TEXT NOT NULL CHECK (booked GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    undone    TEXT CHECK (undone IS NULL OR undone GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    -- 1 when the same nest was knowingly booked once more.
    again     INTEGER NOT NULL CHECK (again IN (0, 1)),
    -- taken = parts + kept + rest
    taken     REAL NOT NULL CHECK (taken > 0),
    parts     REAL NOT NULL CHECK (parts >= 0),
    kept      REAL NOT NULL CHECK (kept >= 0),
    rest      REAL NOT NULL
) STRICT;
-- The last guard against booking a nest twice unawares.
CREATE UNIQUE INDEX bookings_once ON bookings (digest) WHERE undone IS NULL AND again = 0;
CREATE INDEX bookings_by_digest ON bookings (digest);

CREATE TABLE booked_sheets (
    booking INTEGER NOT NULL REFERENCES bookings (number),
    sheet   TEXT NOT NULL REFERENCES sheets (id),
    count   INTEGER NOT NULL CHECK (count > 0),
    -- 1 when they were taken off a count, and go back to it when the booking is undone.
    counted INTEGER NOT NULL CHECK (counted IN (0, 1)),
    PRIMARY KEY (booking, sheet)
) STRICT;

-- Remnants are named without a foreign key: an offcut that leaves the rack because its booking was
-- undone must not take the record of other bookings with it.
CREATE TABLE booked_remnants (
    booking INTEGER NOT NULL REFERENCES bookings (number),
    remnant TEXT NOT NULL COLLATE NOCASE,
    PRIMARY KEY (booking, remnant)
) STRICT;
CREATE INDEX booked_remnants_by_remnant ON booked_remnants (remnant);

CREATE TABLE booked_offcuts (
    booking     INTEGER NOT NULL REFERENCES bookings (number),
    -- Identity within the nest, such as 3A, and on the rack.
    offcut      TEXT NOT NULL,
    remnant     TEXT NOT NULL COLLATE NOCASE,
    -- What it was cut from.
    source_kind TEXT NOT NULL CHECK (source_kind IN ('sheet', 'remnant')),
    source      TEXT NOT NULL,
    PRIMARY KEY (booking, offcut)
) STRICT;
CREATE INDEX booked_offcuts_by_remnant ON booked_offcuts (remnant);

-- What happened, when and why. Only ever added to.
CREATE TABLE events (
    number  INTEGER PRIMARY KEY AUTOINCREMENT,
    at      TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    kind    TEXT NOT NULL CHECK (trim(kind) <> ''),
    remnant TEXT COLLATE NOCASE,
    sheet   TEXT,
    booking INTEGER,
    why     TEXT NOT NULL CHECK (trim(why) <> ''),
    detail  TEXT CHECK (detail IS NULL OR json_valid(detail))
) STRICT;
CREATE INDEX events_by_remnant ON events (remnant) WHERE remnant IS NOT NULL;

CREATE TRIGGER events_stay BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END;
CREATE TRIGGER events_hold BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
