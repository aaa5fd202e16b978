-- Schema 4: holds that a booking used up. Never edited once released.

-- What was held for the order of a booking and was cut by it, to be held again when the booking is undone; gone then.
-- Of bookings made before there is nothing here.
CREATE TABLE booked_holds (
    booking       INTEGER NOT NULL REFERENCES bookings (number),
    -- One of them: a remnant, or so many sheets of a size.
    remnant       TEXT COLLATE NOCASE,
    sheet         TEXT REFERENCES sheets (id),
    count         INTEGER CHECK (count > 0),
    for_order     TEXT NOT NULL CHECK (trim(for_order) <> ''),
    since         TEXT NOT NULL CHECK (since GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    until         TEXT NOT NULL CHECK (until GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*'),
    until_seconds INTEGER NOT NULL,
    CHECK ((remnant IS NULL) <> (sheet IS NULL)),
    CHECK ((sheet IS NULL) = (count IS NULL))
) STRICT;
CREATE INDEX booked_holds_by_booking ON booked_holds (booking);
