DROP FUNCTION append_log(uuid, timestamptz, text, text[], text[], integer[], bytea[], bytea[], boolean[]);
DROP TABLE log_checkpoint;
DROP TABLE log_head;
DROP TABLE log_entry;
