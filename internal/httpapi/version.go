package httpapi

import (
	"strconv"
	"strings"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// etag is the ETag of a record at a version.
func etag(version int) string { return `"` + strconv.Itoa(version) + `"` }

// versionOf reads the version out of If-Match. A tag that this server did not give can match nothing: kind stale.
func versionOf(ifMatch string) (int, error) {
	tag := strings.TrimSpace(ifMatch)
	if len(tag) > 2 && tag[0] == '"' && tag[len(tag)-1] == '"' {
		if n, err := strconv.Atoi(tag[1 : len(tag)-1]); err == nil && n >= 0 && tag == etag(n) {
			return n, nil
		}
	}
	return 0, techlog.Errorf(techlog.KindStale, "the record has no version %s", ifMatch)
}

// statusTag is the ETag of a status. The instant is part of it, as the same records may give another answer later.
func statusTag(s hangar.StatusBody) string {
	tag := make([]byte, 0, 40)
	tag = append(tag, '"')
	tag = strconv.AppendInt(tag, int64(s.Version), 10)
	tag = append(tag, '-')
	tag = strconv.AppendInt(tag, s.AsOf.UnixMicro(), 36)
	return string(append(tag, '"'))
}

// isAmong reports whether If-None-Match names a tag. The comparison is the weak one (RFC 9110, 13.1.2).
func isAmong(ifNoneMatch, tag string) bool {
	for part := range strings.SplitSeq(ifNoneMatch, ",") {
		part = strings.TrimPrefix(strings.TrimSpace(part), "W/")
		if part == tag || part == "*" {
			return true
		}
	}
	return false
}
