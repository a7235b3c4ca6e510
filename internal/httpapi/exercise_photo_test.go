package httpapi_test

import (
	"strings"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/testrig/camera"
)

var asJPEG = map[string]string{"Content-Type": "image/jpeg"}

// snapshot is a photo as a phone sends it.
var snapshot = string(camera.JPEG(64, 48, 6))

// photo adds a photo to a squawk, and gives its path.
func (x *exercise) photo(t *testing.T) string {
	t.Helper()
	p := created[client.Photo](t, x.rig, x.good["addSquawkPhoto"]())
	return "/v1/photos/" + p.Id.String()
}

// signed signs something, and gives the path of what was signed.
func (x *exercise) signed(t *testing.T) string {
	t.Helper()
	return "/v1/signatures/" + created[client.SignedRecord](t, x.rig, x.good["signSquawk"]()).Signature.Id.String()
}

// photoRequests are good requests of photos.
func (x *exercise) photoRequests(t *testing.T) map[string]func() asked {
	t.Helper()
	add := func(path string) asked {
		return asked{method: "POST", path: path + "/photos", body: snapshot, header: asJPEG}
	}
	squawk := func() string { return "/v1/squawks/" + x.squawk(t).Squawk.Id.String() }
	return map[string]func() asked{
		"addSquawkPhoto":   func() asked { return add(squawk()) },
		"listSquawkPhotos": func() asked { return asked{method: "GET", path: squawk() + "/photos"} },
		"addResultPhoto":   func() asked { return add(strings.TrimSuffix(x.found(t), "/squawk")) },
		"listWalkaroundPhotos": func() asked {
			return asked{method: "GET", path: "/v1/walkarounds/" + x.walkaround(t).Walkaround.Id.String() + "/photos"}
		},
		"addSignaturePhoto":   func() asked { return add(x.signed(t)) },
		"listSignaturePhotos": func() asked { return asked{method: "GET", path: x.signed(t) + "/photos"} },
		"downloadPhoto":       func() asked { return asked{method: "GET", path: x.photo(t)} },
		"downloadThumbnail":   func() asked { return asked{method: "GET", path: x.photo(t) + "/thumbnail"} },
	}
}
