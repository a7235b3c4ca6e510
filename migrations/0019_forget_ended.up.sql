-- What has ended long ago, and nobody asks for, is taken away: sessions, challenges, attempts to get in, and the answers to
-- requests that may be sent again. The database looks at the age itself, by its own clock: neither the program nor a hand
-- takes away what ended less than 30 days ago.

DROP TRIGGER session_kept ON session;
CREATE TRIGGER session_kept BEFORE TRUNCATE ON session FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER session_kept_for_a_month BEFORE DELETE ON session FOR EACH ROW
	WHEN (least(OLD.until, OLD.ended_at) > clock_timestamp() - interval '30 days') EXECUTE FUNCTION refuse();
CREATE POLICY session_ended_seen ON session FOR SELECT USING (asking_keeper() AND least(until, ended_at) <= now() - interval '30 days');
CREATE POLICY session_forgotten ON session FOR DELETE USING (asking_keeper());

DROP TRIGGER challenge_kept ON challenge;
CREATE TRIGGER challenge_kept BEFORE TRUNCATE ON challenge FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER challenge_kept_for_a_month BEFORE DELETE ON challenge FOR EACH ROW
	WHEN (OLD.until > clock_timestamp() - interval '30 days') EXECUTE FUNCTION refuse();
CREATE POLICY challenge_ended_seen ON challenge FOR SELECT USING (asking_keeper() AND until <= now() - interval '30 days');
CREATE POLICY challenge_forgotten ON challenge FOR DELETE USING (asking_keeper());

-- Whoever presented the address may not take away what counts against it.
DROP TRIGGER attempt_kept ON attempt;
CREATE TRIGGER attempt_kept BEFORE TRUNCATE ON attempt FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER attempt_kept_for_a_month BEFORE DELETE ON attempt FOR EACH ROW
	WHEN (greatest(OLD.at, OLD.until) > clock_timestamp() - interval '30 days') EXECUTE FUNCTION refuse();
CREATE POLICY attempt_ended_seen ON attempt FOR SELECT USING (asking_keeper() AND greatest(at, until) <= now() - interval '30 days');
CREATE POLICY attempt_forgotten ON attempt FOR DELETE USING (asking_keeper());

CREATE TRIGGER idempotency_kept BEFORE UPDATE OR TRUNCATE ON idempotency FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER idempotency_kept_for_a_month BEFORE DELETE ON idempotency FOR EACH ROW
	WHEN (OLD.at > clock_timestamp() - interval '30 days') EXECUTE FUNCTION refuse();
