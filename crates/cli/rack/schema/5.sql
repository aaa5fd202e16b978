-- Schema 5: a booked nest is known by what it says too. Never edited once released.

-- SHA-256 of the nest as read: seed, sheets, parts, cuts and kept offcuts, however its file is written. NULL for what
-- was booked before, which is known by the bytes of its file alone.
ALTER TABLE booked_numbers ADD COLUMN layout TEXT;
-- The last guard against booking a sheet twice from two files that say the same.
CREATE UNIQUE INDEX booked_numbers_once_as_read ON booked_numbers (layout, number) WHERE stands = 1;
