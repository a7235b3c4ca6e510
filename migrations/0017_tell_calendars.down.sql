DROP INDEX flight_of_aircraft, flight_called_off;
ALTER TABLE flight DROP COLUMN changed_at, DROP COLUMN sequence;
DROP TABLE calendar_feed_revocation, calendar_feed;
