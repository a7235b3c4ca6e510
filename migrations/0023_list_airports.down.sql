DROP TABLE airport;
