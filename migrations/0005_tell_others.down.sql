DROP TABLE idempotency;
DROP TABLE event;
