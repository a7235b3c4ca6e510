DROP TABLE flight;
DROP DOMAIN verdict;
DROP DOMAIN flight_state;
DROP DOMAIN flight_rules;
