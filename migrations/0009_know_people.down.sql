DROP TABLE security_event, linked_identity, challenge, recovery_code, passkey, attempt, session, password_link, password;
DROP POLICY organization_of_person ON organization;
DROP TABLE token_revocation;
DROP TRIGGER token_append_only ON token;
ALTER TABLE token
	DROP CONSTRAINT token_own_has_a_maker,
	DROP CONSTRAINT token_ends_within_a_year,
	DROP CONSTRAINT token_of_a_person_ends,
	DROP CONSTRAINT token_roles_given,
	DROP CONSTRAINT token_maker_fkey,
	DROP COLUMN until, DROP COLUMN made_at, DROP COLUMN actions, DROP COLUMN own, DROP COLUMN maker;
ALTER TABLE token RENAME COLUMN roles TO role;
ALTER TABLE token ALTER COLUMN role TYPE role USING role[1];
ALTER TABLE membership DROP CONSTRAINT membership_entry_fkey;
DROP POLICY account_seen ON account;
DROP TABLE membership_history, membership, account;
DROP FUNCTION keep_an_administrator();
DROP DOMAIN challenge_purpose;
DROP DOMAIN security_event_kind;
DROP FUNCTION presented_address();
DROP FUNCTION presented_email();
DROP FUNCTION asking_person();
