DROP TABLE token;
DROP TABLE organization;
DROP FUNCTION asking_keeper();
DROP FUNCTION presented_digest();
DROP FUNCTION asking_organization();
