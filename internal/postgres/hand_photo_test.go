package postgres_test

import (
	"testing"
)

// TestPhotosAreNotMadeByHand is a hand on psql among photos.
func TestPhotosAreNotMadeByHand(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	photo := func(of, what string) string {
		return spell(`INSERT INTO photo (organization, id, `+of+`, type, digest, thumbnail, size, width, height, at, by)
			VALUES (@org, gen_random_uuid(), `+what+`, now(), 'P. Lot')`, 1)
	}
	const seen = `, 'image/jpeg', sha256('seen'), sha256('small'), 4, 2, 1`
	const result = `'00000000-0000-7000-8000-000000000077'`
	do(t, conn, photo(`squawk`, `@squawk`+seen))
	do(t, conn, photo(`walkaround, result`, `@walkaround, `+result+seen))
	do(t, conn, photo(`squawk`, `@squawk, 'application/pdf', sha256('seen'), NULL, 4, 0, 0`))
	for _, c := range []struct{ of, what, by string }{
		{`squawk`, `@other` + seen, "photo_squawk_fkey"},
		{`signature`, `@other` + seen, "photo_signature_fkey"},
		{`walkaround, result`, `@walkaround, @other` + seen, "photo_of_a_result"},
		{`walkaround`, `@walkaround` + seen, "photo_of_one_thing"},
		{`result`, result + seen, "photo_of_one_thing"},
		{`walkaround, squawk`, `@walkaround, @squawk` + seen, "photo_of_one_thing"},
		{`walkaround, result, squawk`, `@walkaround, ` + result + `, @squawk` + seen, "photo_of_one_thing"},
		{`squawk`, `NULL` + seen, "photo_of_one_thing"},
		{`squawk`, `@squawk, 'text/html', sha256('seen'), sha256('small'), 4, 2, 1`, "photo_type_known"},
		{`squawk`, `@squawk, 'image/jpeg', 'seen', sha256('small'), 4, 2, 1`, "photo_digests_are_sha256"},
		{`squawk`, `@squawk, 'image/jpeg', sha256('seen'), 'small', 4, 2, 1`, "photo_digests_are_sha256"},
		{`squawk`, `@squawk, 'image/jpeg', sha256('seen'), sha256('small'), 0, 2, 1`, "photo_size_range"},
		{`squawk`, `@squawk, 'image/jpeg', sha256('seen'), sha256('small'), 16777217, 2, 1`, "photo_size_range"},
		{`squawk`, `@squawk, 'image/jpeg', sha256('seen'), NULL, 4, 2, 1`, "photo_is_seen"},
		{`squawk`, `@squawk, 'image/jpeg', sha256('seen'), sha256('small'), 4, 2, 0`, "photo_is_seen"},
		{`squawk`, `@squawk, 'application/pdf', sha256('seen'), sha256('small'), 4, 0, 0`, "photo_is_seen"},
		{`squawk`, `@squawk, 'application/pdf', sha256('seen'), NULL, 4, 2, 1`, "photo_is_seen"},
	} {
		wantRefused(t, conn, photo(c.of, c.what), c.by)
	}
}

// TestContentIsNotExchangedByHand holds that content is what its digest says, and stays as long as a photo has it. The
// role of the program may take away the rest.
func TestContentIsNotExchangedByHand(t *testing.T) {
	t.Parallel()
	conn := bound(t)
	do(t, conn, ask(1))
	content := func(sql string) string { return spell(sql+` WHERE organization = @org AND digest = sha256('seen')`, 1) }
	wantRefused(t, conn, spell(`INSERT INTO content (organization, digest, bytes, at) VALUES (@org, sha256('this'), 'that', now())`, 1), "content_digest_of_bytes")
	wantRefused(t, conn, spell(`INSERT INTO content (organization, digest, bytes, at) VALUES (@org, sha256(''), '', now())`, 1), "content_size")
	wantRefused(t, conn, content(`DELETE FROM content`), "content_in_use")
	wantRefused(t, conn, spell(`DELETE FROM content WHERE organization = @org AND digest = sha256('small')`, 1), "content_in_use")
	do(t, conn, content(`UPDATE content SET at = now()`))
	do(t, conn, spell(`DELETE FROM content WHERE organization = @org AND digest = sha256('left')`, 1))
	// Of the other club nothing can be taken away.
	do(t, conn, spell(`DELETE FROM content WHERE organization = @org AND digest = sha256('left')`, 2))
	do(t, conn, ask(2))
	if n := column[int](t, conn, `SELECT count(*)::int FROM content`)[0]; n != 3 {
		t.Errorf("%d pieces of content are left, want 3", n)
	}

	owner := hand(t)
	do(t, owner, ask(1))
	wantRefused(t, owner, content(`UPDATE content SET bytes = 'other'`), "content_bytes_kept")
	wantRefused(t, owner, content(`UPDATE content SET digest = sha256('other')`), "content_bytes_kept")
	wantRefused(t, owner, `TRUNCATE content`, "content_kept")
}
