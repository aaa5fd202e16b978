-- Schema 3: sheets held for an order. Never edited once released.

-- So many sheets of a size that are kept for an order. Gone when they are released, cut or run out;
-- the events tell of it then.
CREATE TABLE sheet_holds (
    sheet         TEXT NOT NULL REFERENCES sheets (id),
    for_order     TEXT NOT NULL CHECK (trim(for_order) <> ''),
    count         INTEGER NOT NULL CHECK (count > 0),
    since         TEXT NOT NULL CHECK (since GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    -- The moment it ends, as people read it and in seconds since 1970 UTC for comparing.
    until         TEXT NOT NULL CHECK (until GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    until_seconds INTEGER NOT NULL,
    PRIMARY KEY (sheet, for_order)
) STRICT;
CREATE INDEX sheet_holds_by_end ON sheet_holds (until_seconds);
