-- Flights of several legs. The legs stand in the flight's own row: they are written, read and vouched for together with
-- it, and nobody asks for one without its flight. A row from before has none: it is one leg, between its two bases.

ALTER TABLE flight
	ALTER COLUMN from_base DROP NOT NULL, -- null: it leaves from no base
	ALTER COLUMN to_base DROP NOT NULL,
	ADD COLUMN legs jsonb, -- null: one leg between its bases, over its window
	ADD COLUMN hold_legs jsonb, -- null: the hold of its one leg is that of the flight
	ADD CONSTRAINT flight_legs CHECK (CASE jsonb_typeof(legs)
		WHEN 'array' THEN jsonb_array_length(legs) BETWEEN 1 AND 20
		ELSE legs IS NULL AND from_base IS NOT NULL AND to_base IS NOT NULL END),
	ADD CONSTRAINT flight_hold_legs CHECK (CASE jsonb_typeof(hold_legs)
		WHEN 'array' THEN jsonb_array_length(hold_legs) = jsonb_array_length(legs)
		ELSE hold_legs IS NULL AND coalesce(jsonb_array_length(legs), 1) = 1 END);
