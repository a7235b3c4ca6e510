-- Only where nothing has been signed: what is signed is refused to go.
DROP TRIGGER deferral_signed ON deferral;
DROP FUNCTION sign_deferral;
ALTER TABLE deferral DROP COLUMN carried_over, DROP COLUMN signature, DROP COLUMN discovered, DROP COLUMN extended_until,
	DROP COLUMN involves_maintenance, DROP COLUMN maintenance_done;
ALTER TABLE squawk_history DROP COLUMN signature;
ALTER TABLE squawk_history DROP CONSTRAINT IF EXISTS squawk_history_signed;
DROP TRIGGER squawk_progress_signed ON squawk;
DROP FUNCTION sign_progress;
ALTER TABLE squawk DROP COLUMN confirmed, DROP COLUMN duplicate_of, DROP COLUMN progress;
ALTER DOMAIN squawk_step DROP CONSTRAINT squawk_step_known;
ALTER DOMAIN squawk_step ADD CONSTRAINT squawk_step_known CHECK (VALUE IN ('report', 'note', 'defer', 'close', 'reopen'));
DROP TABLE signature;
DROP FUNCTION hold_certificate;
DROP TABLE standing;
DROP TABLE certificate;
DROP FUNCTION follow_standing;
DROP FUNCTION follow_certificate;
DROP FUNCTION break_law;
DROP DOMAIN proof;
DROP DOMAIN signed_action;
DROP DOMAIN standing_kind;
DROP DOMAIN certificate_kind;
