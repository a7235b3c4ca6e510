-- Only where nothing was expected yet: an entry of the step is refused to go, as every entry is.
ALTER TABLE squawk_history DROP CONSTRAINT squawk_history_expected, DROP COLUMN expected_on;
ALTER TABLE squawk DROP CONSTRAINT squawk_expected, DROP COLUMN expected_words, DROP COLUMN expected_on;

ALTER DOMAIN squawk_step DROP CONSTRAINT squawk_step_known;
ALTER DOMAIN squawk_step ADD CONSTRAINT squawk_step_known CHECK (VALUE IN (
	'report', 'note', 'confirm', 'duplicate', 'out-of-use', 'defer', 'extend', 'carry-on', 'work', 'return-to-service',
	'check-flight', 'correct', 'close', 'reopen'));
