-- Airports from a list that people take in themselves: a flight copies what it uses of one.
CREATE TABLE airport (
	organization uuid NOT NULL,
	ident        text COLLATE "C" NOT NULL,
	name         text NOT NULL,
	lat          double precision NOT NULL,
	lon          double precision NOT NULL,
	CONSTRAINT airport_pkey PRIMARY KEY (organization, ident),
	CONSTRAINT airport_lat_range CHECK (lat BETWEEN -90 AND 90),
	CONSTRAINT airport_lon_range CHECK (lon BETWEEN -180 AND 180),
	CONSTRAINT airport_name_given CHECK (name ~ '\S')
);

CREATE INDEX airport_by_latitude ON airport (organization, lat);

ALTER TABLE airport ENABLE ROW LEVEL SECURITY;
ALTER TABLE airport FORCE ROW LEVEL SECURITY;
CREATE POLICY airport_of_organization ON airport
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER airport_kept BEFORE DELETE OR TRUNCATE ON airport FOR EACH STATEMENT EXECUTE FUNCTION refuse();
