ALTER TABLE flight
	DROP CONSTRAINT flight_hold_legs,
	DROP CONSTRAINT flight_legs,
	DROP COLUMN hold_legs,
	DROP COLUMN legs,
	ALTER COLUMN to_base SET NOT NULL,
	ALTER COLUMN from_base SET NOT NULL;
