-- What maintenance expects of a squawk, such as the day on which parts come. It is told, and no determination reads it. Each
-- time somebody says so is an entry of the history; the squawk has what was said last, until it is closed.

ALTER DOMAIN squawk_step DROP CONSTRAINT squawk_step_known;
ALTER DOMAIN squawk_step ADD CONSTRAINT squawk_step_known CHECK (VALUE IN (
	'report', 'note', 'confirm', 'duplicate', 'expect', 'out-of-use', 'defer', 'extend', 'carry-on', 'work', 'return-to-service',
	'check-flight', 'correct', 'close', 'reopen'));

ALTER TABLE squawk ADD COLUMN expected_on date; -- null: nothing is expected, or it is no longer known when
ALTER TABLE squawk ADD COLUMN expected_words text NOT NULL DEFAULT '';
ALTER TABLE squawk ADD CONSTRAINT squawk_expected CHECK (
	CASE WHEN expected_on IS NULL THEN expected_words = '' ELSE expected_words <> '' AND state <> 'closed' END);

ALTER TABLE squawk_history ADD COLUMN expected_on date;
ALTER TABLE squawk_history ADD CONSTRAINT squawk_history_expected CHECK (expected_on IS NULL OR step = 'expect');
