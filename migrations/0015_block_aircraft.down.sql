DROP INDEX flight_of_series;
ALTER TABLE flight DROP COLUMN series;
DROP TABLE flight_shown;
ALTER TABLE flight DROP COLUMN hold_blocks;
DROP TABLE block;
DROP DOMAIN block_kind;
