package httpapi_test

import (
	"net/http"
	"slices"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/casefile"
)

// FuzzSigning: whatever is sent to be signed, a program that signs nothing is told what is wrong with it, or that it may
// not; the server never fails.
func FuzzSigning(f *testing.F) {
	r := newBareRig(f)
	act := casefile.Act{Action: "work", Certificate: newID().String(), Work: "repair", Found: "a crack", Declared: &casefile.Declared{Part: "airframe"}}
	good := marshal(f, client.Signing{Act: act, Digest: hexOf([32]byte{1}), Proof: client.Proof{Password: new("secret")}})
	f.Add(good, `"1"`)
	f.Add(good[:len(good)-2], `"1"`)
	f.Add(`{"act": {"action": "work", "certificate": "", "declared": {"paragraph": 32}}, "digest": "0", "proof": {}}`, `"0"`)
	f.Add(`{"act": null, "digest": [], "proof": {"passkey": {"challenge": "x", "response": "{"}}}`, `W/"1"`)
	f.Fuzz(func(t *testing.T, body, ifMatch string) {
		r.exchange.t = t
		for _, path := range []string{"/v1/squawks/", "/v1/aircraft/"} {
			got := r.ask(t, asked{
				method: "POST", path: path + newID().String() + "/signatures", body: body, token: anyToken, header: map[string]string{"If-Match": ifMatch},
			})
			allowed := []int{
				http.StatusBadRequest, http.StatusForbidden, http.StatusPreconditionFailed, http.StatusRequestEntityTooLarge,
				http.StatusUnsupportedMediaType, http.StatusUnprocessableEntity,
			}
			if !slices.Contains(allowed, got.status) {
				t.Errorf("%d %s", got.status, got.body)
			}
		}
	})
}
