ALTER TABLE squawk DROP CONSTRAINT squawk_deferral_fkey;
DROP TABLE deferral;
ALTER TABLE squawk DROP CONSTRAINT squawk_entry_fkey;
DROP TABLE squawk_history;
DROP TABLE squawk;
DROP DOMAIN deferral_method;
DROP DOMAIN squawk_step;
DROP DOMAIN squawk_state;
DROP DOMAIN squawk_kind;
