DROP TABLE token;
DROP TABLE organization;
DROP DOMAIN role;
DROP FUNCTION asking_keeper();
DROP FUNCTION presented_digest();
DROP FUNCTION asking_organization();
