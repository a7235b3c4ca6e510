ALTER TABLE aircraft DROP CONSTRAINT aircraft_revision_fkey;
DROP TABLE aircraft_configuration;
DROP TABLE aircraft;
DROP TABLE base;
DROP FUNCTION expect(bigint, bigint, text);
DROP FUNCTION refuse();
