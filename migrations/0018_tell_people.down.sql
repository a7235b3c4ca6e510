DROP TABLE stop_link;
DROP TABLE note;
DROP TABLE note_cursor;
DROP TABLE notice_preference;
DROP TABLE warning;
DROP TABLE warning_leads;
DROP DOMAIN note_state;
DROP DOMAIN note_kind;
