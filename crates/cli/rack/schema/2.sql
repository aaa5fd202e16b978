-- Schema 2: holds, losses, purchases, the ledger of sheets, single sheets of a nest, space to sort and
-- search a large rack. Never edited once released.

INSERT INTO states (state, meaning) VALUES
    ('thrown-out', 'thrown away; the event says why'),
    ('recycled', 'given to a recycler; the event says why'),
    ('lost', 'not found where it should be; may be found again');

-- A remnant on the rack that is kept for an order. Gone when it is released, cut or run out; the
-- events tell of it then.
CREATE TABLE holds (
    remnant       TEXT PRIMARY KEY NOT NULL COLLATE NOCASE REFERENCES remnants (id),
    for_order     TEXT NOT NULL CHECK (trim(for_order) <> ''),
    since         TEXT NOT NULL CHECK (since GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    -- The moment it ends, as people read it and in seconds since 1970 UTC for comparing.
    until         TEXT NOT NULL CHECK (until GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    until_seconds INTEGER NOT NULL
) STRICT;
CREATE INDEX holds_by_end ON holds (until_seconds);

-- Purchases of sheets.
CREATE TABLE receipts (
    number    INTEGER PRIMARY KEY,
    sheet     TEXT NOT NULL REFERENCES sheets (id),
    received  TEXT NOT NULL CHECK (received GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    count     INTEGER NOT NULL CHECK (count > 0),
    -- How many of them are still in stock: the oldest go first.
    remaining INTEGER NOT NULL CHECK (remaining BETWEEN 0 AND count),
    lot       TEXT,
    -- What one sheet cost.
    price     REAL CHECK (price IS NULL OR price >= 0),
    note      TEXT
) STRICT;
CREATE INDEX receipts_by_sheet ON receipts (sheet, number) WHERE remaining > 0;

-- Every change of a count. The count of a sheet is their sum.
CREATE TABLE movements (
    number  INTEGER PRIMARY KEY AUTOINCREMENT,
    at      TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    sheet   TEXT NOT NULL REFERENCES sheets (id),
    change  INTEGER NOT NULL CHECK (change <> 0),
    kind    TEXT NOT NULL CHECK (kind IN ('opening', 'received', 'counted', 'taken', 'returned')),
    booking INTEGER REFERENCES bookings (number),
    receipt INTEGER REFERENCES receipts (number)
) STRICT;
CREATE INDEX movements_by_sheet ON movements (sheet);
INSERT INTO movements (at, sheet, change, kind)
    SELECT strftime('%Y-%m-%dT%H:%M:%S+00:00'), id, stock, 'opening' FROM sheets WHERE stock > 0;
CREATE TRIGGER movements_stay BEFORE DELETE ON movements
BEGIN SELECT RAISE(ABORT, 'movements are never deleted'); END;
CREATE TRIGGER movements_hold BEFORE UPDATE ON movements
BEGIN SELECT RAISE(ABORT, 'movements are never changed'); END;

-- Sheets of purchases that a booking took, to go back to them when it is undone.
CREATE TABLE booked_receipts (
    booking INTEGER NOT NULL REFERENCES bookings (number),
    receipt INTEGER NOT NULL REFERENCES receipts (number),
    count   INTEGER NOT NULL CHECK (count > 0),
    PRIMARY KEY (booking, receipt)
) STRICT;

-- Which sheets of which nest stand booked. Number 0 is the whole of a nest that was booked before
-- there were single ones. A booking that was undone, or knowingly made once more, stands apart.
CREATE TABLE booked_numbers (
    booking INTEGER NOT NULL REFERENCES bookings (number),
    digest  TEXT NOT NULL,
    number  INTEGER NOT NULL CHECK (number >= 0),
    stands  INTEGER NOT NULL CHECK (stands IN (0, 1)),
    PRIMARY KEY (booking, number)
) STRICT;
INSERT INTO booked_numbers (booking, digest, number, stands)
    SELECT number, digest, 0, undone IS NULL AND again = 0 FROM bookings;
DROP INDEX bookings_once;
-- The last guard against booking a sheet of a nest twice unawares.
CREATE UNIQUE INDEX booked_numbers_once ON booked_numbers (digest, number) WHERE stands = 1;

-- Parts that a booking made, for finding out what the shop cuts often. Size is that of the bounding
-- rectangle, the longer side first.
CREATE TABLE booked_parts (
    booking  INTEGER NOT NULL REFERENCES bookings (number),
    material TEXT NOT NULL,
    kit      TEXT NOT NULL,
    part     TEXT NOT NULL,
    copies   INTEGER NOT NULL CHECK (copies > 0),
    length   REAL NOT NULL CHECK (length > 0),
    width    REAL NOT NULL CHECK (width > 0),
    PRIMARY KEY (booking, material, kit, part)
) STRICT;

-- Of `rest`, what the tools removed; NULL where that was not written down.
ALTER TABLE bookings ADD COLUMN kerf REAL CHECK (kerf IS NULL OR kerf BETWEEN 0 AND rest + 1);

-- Sides along x and y of the largest upright rectangle without void or flaw; NULL where it was not
-- measured.
ALTER TABLE remnants ADD COLUMN clear_length REAL;
ALTER TABLE remnants ADD COLUMN clear_width REAL;
ALTER TABLE remnants ADD COLUMN photo TEXT;
UPDATE remnants SET clear_length = length, clear_width = width
    WHERE flaws = '[]' AND abs(area - length * width) <= 1e-9 * area;

-- Everything that a first look at a large rack needs, and the order of lists: what follows the last
-- letter of an id counts as a number.
DROP INDEX remnants_by_state;
CREATE INDEX remnants_for_search ON remnants (state, material, length, width, area, clear_length,
    clear_width, value, good_faces, grain_deg, id);
CREATE INDEX remnants_in_order ON remnants (state, upper(rtrim(id, '0123456789')),
    CAST(substr(id, length(rtrim(id, '0123456789')) + 1) AS INTEGER), id);

-- The highest number of a remnant that was ever given.
CREATE TABLE counters (
    name  TEXT PRIMARY KEY NOT NULL,
    value INTEGER NOT NULL
) STRICT;
INSERT INTO counters (name, value)
    SELECT 'remnant', coalesce(max(CAST(substr(id, 3) AS INTEGER)), 0) FROM
        (SELECT id FROM remnants UNION SELECT remnant FROM events WHERE remnant IS NOT NULL)
    WHERE id LIKE 'R-%' AND length(id) BETWEEN 3 AND 20 AND substr(id, 3) NOT GLOB '*[^0-9]*';
