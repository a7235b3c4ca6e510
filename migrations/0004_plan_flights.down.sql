DROP TABLE flight;
